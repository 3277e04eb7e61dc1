"""The summary in the terminal, and the report in a notebook."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from golden_file import hold_against_golden
from lxml import html
from marked_examples import cell_at, found, small_report, small_season

from audit.findings import Finding, Report, Suspect
from audit.handover.summary import summary_text
from audit.review.wording import chance


@pytest.fixture
def report():
    return small_report(small_season())


def test_summary_is_golden(report):
    text = summary_text(report, 80, files=[Path("out/findings.csv"), Path("out/test.report.html")])
    hold_against_golden("summary.txt", text + "\n")


def test_lines_keep_to_the_width(report):
    for width in (60, 100):
        assert max(len(line) for line in summary_text(report, width).split("\n")) <= width


def test_errors_come_first_and_the_rest_is_counted(report):
    text = summary_text(report, shown=1)
    assert "ERROR handlings H3" in text
    assert "3 more in the files." in text
    assert "SUSPECT handlings" not in text


def test_cells_of_one_slip_are_named_shortly():
    season = small_season()
    at = [(f"handlings!{row}", "box", "SL-02" if row < 5 else "SL-01") for row in range(2, 7)]
    finding = found(season, "boxes.exchanged", "error", at, "Two broods.", p_error=0.5, p_fix=0.5)
    lines = summary_text(Report("s", (finding,)), 100).split("\n")
    first = next(i for i, line in enumerate(lines) if line.startswith("ERROR"))
    assert lines[first].startswith("ERROR handlings B2, B3, B4, B5, B6 (")
    assert lines[first + 2] == "  -> B2, B3, B4 suggested SL-02 (50 %); B5, B6 suggested SL-01 (50 %)"


def test_a_clean_season_says_so():
    text = summary_text(Report("s", (), rows_read=(("handlings", 1),)))
    assert text == "Season s: handlings 1 row read.\nNothing found."


def test_an_empty_season_is_not_called_clean():
    text = summary_text(Report("s", (), rows_read=(("handlings", 0),)), 100)
    assert text == (
        "Season s: handlings 0 rows read.\nNo bird stands in the handlings, so there was nothing to find."
    )


def test_typed_control_signs_do_not_reach_the_terminal():
    finding = Finding("reading.x", "error", (Suspect(cell_at("a\x1b[2J", "F3")),), "seen \x1b]0;x\x07 here")
    assert "\x1b" not in summary_text(Report("s", (finding,)))


def test_a_probability_is_never_certain():
    assert [chance(p) for p in (0.0, 0.004, 0.5, 0.994, 0.996, 1.0)] == [
        *("under 1 %", "under 1 %", "50 %", "99 %", "over 99 %", "over 99 %")
    ]


def test_notebook_form_escapes_and_counts(report):
    season = small_season()
    awkward = found(
        season, "rule.x", "error", [("handlings!4", "remarks", "<i>")], "<script>alert(1)</script>"
    )
    page = html.fromstring(f"<div>{replace(report, findings=(awkward,))._repr_html_()}</div>")
    assert not page.xpath("//script|//b|//i")
    assert "<script>alert(1)</script>" in page.text_content()
    assert '=HYPERLINK("x") <b>bold</b> & so on' in page.text_content()


def test_notebook_form_says_how_many_more(report):
    many = replace(report, findings=report.findings * 10)
    page = html.fromstring(f"<div>{many._repr_html_()}</div>")
    captions = [caption.text_content() for caption in page.xpath("//caption")]
    assert captions == ["By rule", "Gravest first", "Not checked"]
    assert len(page.xpath("//table[2]/tbody/tr")) == 20
    assert "20 more findings are in report.findings" in page.text_content()


def test_text_and_notebook_agree_on_the_counts(report):
    text, page = summary_text(report), report._repr_html_()
    for rule, severity, number in report.by_rule():
        assert any(line.split() == [str(number), severity, rule] for line in text.split("\n"))
        assert f">{severity}</td>" in page
        assert f">{rule}</td>" in page

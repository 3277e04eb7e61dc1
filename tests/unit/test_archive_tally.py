"""What was found in an archive, counted: by season, team, box and rule, and what to look at first."""

from __future__ import annotations

from archive_rows import DECLARED

from audit.archive.audited import Audited
from audit.archive.lines import LINE_COLUMNS
from audit.archive.summary import summary_text
from audit.archive.summary_page import summary_page
from audit.archive.tally import Tally
from audit.review.worklist import consequences

COSTS = {"ring": 100.0, "wing_mm": 10.0}


def line(number, field="ring", severity="error", p=0.5, **more):
    told = dict.fromkeys(LINE_COLUMNS, "") | {
        "finding": f"f{number}",
        "group": f"g{number}",
        "rule": "archive.ringed_twice",
        "severity": severity,
        "file": "2019.csv",
        "row": str(number),
        "field": field,
        "column": field,
        "p_error": f"{p:g}",
        "box": "SL-01",
        "team": "AB",
        "message": f"Finding {number}.",
    }
    return told | more


def tallied():
    tally = Tally(COSTS)
    tally.add(
        "2019", [line(2, p=0.5), line(3, p=0.9), line(4, "wing_mm", p=1.0), line(5, severity="note", p=1.0)]
    )
    # two cells of one slip, and a finding with two cells
    tally.add(
        "2020", [line(6, group="g", p=0.6), line(7, group="g", p=0.6), line(8, box=""), line(8, row="9")]
    )
    return tally


def test_a_finding_counts_once_however_many_cells_it_blames():
    tally = tallied()
    assert tally.lines == 8
    assert tally.by_rule == {
        ("2019", "archive.ringed_twice", "error"): 3,
        ("2020", "archive.ringed_twice", "error"): 3,
    } | {("2019", "archive.ringed_twice", "note"): 1}
    assert tally.by_team["2020", "", "AB", "error"] == 3
    assert tally.by_box == {("2019", "", "AB", "SL-01"): 3, ("2020", "", "AB", "SL-01"): 3}


def test_the_greatest_expected_harm_comes_first_and_notes_never():
    first = tallied().first
    assert [(one.line["row"], round(one.harm), one.cells) for one in first] == [
        ("6", 120, 2),
        ("8", 100, 2),
        ("3", 90, 1),
        ("2", 50, 1),
        ("4", 10, 1),
    ]


def test_no_more_is_kept_than_can_be_read():
    tally = Tally(COSTS)
    tally.add("2019", [line(number, p=number / 1000) for number in range(2, 500)])
    assert [one.line["row"] for one in tally.first][:2] == ["499", "498"]
    assert len(tally.first) == 50


def test_the_page_says_what_was_typed_and_runs_nothing():
    tally = Tally(consequences(DECLARED))
    tally.add("2019", [line(2, message="Ring <script>alert(1)</script>.", box="<b>")])
    page = summary_page(Audited(handlings=3, tally=tally, notices=["Nothing is written in <i>."]), DECLARED)
    assert "<script" not in page
    assert "Ring &lt;script&gt;" in page
    assert "A ring was put on a bird twice." in page
    assert "&lt;b&gt; (2019, AB)" in page
    assert "Nothing is written in &lt;i&gt;." in page


def test_the_text_leads_from_what_is_first_to_how_it_was_read():
    text = summary_text(Audited(handlings=3, tally=tallied(), notices=["A file."]), DECLARED)
    parts = [
        "Look at these first:",
        "season and team",
        "Boxes with most",
        "By rule:",
        "Asked were",
        "A file.",
    ]
    places = [text.index(part) for part in parts]
    assert places == sorted(places)
    assert "6   SL-01" not in text
    assert "        3   SL-01 (2019, AB)" in text

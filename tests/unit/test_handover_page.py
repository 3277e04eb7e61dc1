"""The page: whole, escaped, readable without JavaScript, small."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from invented import invented_season, large_style
from lxml import html
from marked_examples import found, small_report, small_season
from typed_season import typed_season

from audit.findings import Report
from audit.handover.page import page_text, write_page
from audit.named_findings import identify, sort_findings


@pytest.fixture(scope="module")
def season():
    return small_season()


@pytest.fixture(scope="module")
def page(season, declared):
    return html.document_fromstring(page_text(small_report(season), season, declared))


def test_it_stands_alone(season, declared):
    text = page_text(small_report(season), season, declared)
    page = html.document_fromstring(text)
    assert page.get("lang") == "en"
    assert page.xpath("//meta[@charset='utf-8']")
    assert not page.xpath("//script|//link|//img|//iframe|//object|//*[@onclick or @onload]")
    assert not [a for a in page.xpath("//a/@href") if not a.startswith("#")]
    assert "http" not in text.replace("http-equiv", "").replace("http://www.w3.org/", "")
    assert "default-src 'none'" in page.xpath("//meta[@http-equiv]/@content")[0]


def test_headings_captions_and_labels(page):
    assert len(page.xpath("//h1")) == 1
    assert [h.text_content() for h in page.xpath("//h2")] == [
        "Found, by rule",
        "Findings by box and day",
        "What could not be checked",
        "How the file was read",
        "The season in pictures",
        "Before anybody goes back to a box",
        "Where the limits come from",
    ]
    assert all(table.xpath("./caption") for table in page.xpath("//table"))
    pictures = page.xpath("//figure/*[local-name()='svg']")
    assert len(pictures) == 3
    assert all(picture.get("role") == "img" and picture.get("aria-label") for picture in pictures)


def test_paper_is_spared_the_numbers_of_all_rules(page):
    style = page.xpath("string(//style)")
    (numbers,) = page.xpath("//details[summary[starts-with(., 'Numbers')]]")
    assert numbers.get("class") == "aside"
    assert "details:not(.aside)::details-content" in style


def test_identities_are_unique_and_links_lead_somewhere(page):
    identities = page.xpath("//@id")
    assert len(identities) == len(set(identities))
    assert {link[1:] for link in page.xpath("//a/@href")} <= set(identities)


def test_findings_stand_by_box_and_day_with_their_neighbours(page):
    boxes = page.xpath("//details[starts-with(@id, 'box')]")
    assert [box.xpath("string(summary/strong)") for box in boxes] == ["SL-01", "SL-02"]
    first = boxes[0]
    assert first.xpath("string(.//h3)") == "2026-06-04"
    assert [row.strip() for row in first.xpath(".//tbody/tr/th/text()")] == ["2", "3", "4"]
    suspect = first.xpath(".//td[@class='error']")
    assert [cell.text_content().strip() for cell in suspect] == ["395"]
    assert [cell.text_content().strip() for cell in first.xpath(".//td[@class='w']")] == ["395", "22"]
    assert "the bag was not subtracted" in first.text_content()
    assert "suggested 373 (chance 99 %)" in first.text_content()
    assert "suggested SV01006 (chance 60 %), or SV01061 (6 %)" in page.text_content()
    assert {d.get("open") is not None for d in boxes} == {True}


def test_it_has_room_on_a_narrow_screen(page):
    style = page.xpath("string(//style)")
    assert "@media screen and (max-width:40rem){table{display:block;overflow-x:auto}" in style
    (rule,) = page.xpath("//th/code[.='tare.not_subtracted']")
    assert len(rule.xpath(".//wbr")) == 2


def test_a_box_written_three_ways_stands_once(declared):
    rows = [
        {"date": "2026-06-04", "box": box, "ring": f"SV0100{i}", "net_g": 300}
        for i, box in enumerate(("SL01", "SL-02", "SL-01", "SL-01", "sl 01"))
    ]
    season = typed_season(declared, handlings=rows)
    findings = [
        found(season, "x.y", "note", [(f"handlings!{i + 2}", "net_g", "")], f"Slip {i}.") for i in range(5)
    ]
    page = html.document_fromstring(page_text(Report("s", identify(findings)), season, declared))
    boxes = page.xpath("//details[starts-with(@id, 'box')]")
    assert [box.xpath("string(summary/strong)") for box in boxes] == ["SL-01", "SL-02"]
    assert [len(box.xpath(".//ul[@class='found']/li")) for box in boxes] == [4, 1]


def test_severity_is_never_colour_alone(page):
    words = [word.text_content() for word in page.xpath("//ul[@class='found']/li/b")]
    assert sorted(words) == ["ERROR", "NOTE", "SUSPECT", "SUSPECT"]
    style = page.xpath("string(//style)")
    for line in ("double", "wavy", "dotted"):
        assert f"underline {line}" in style


def test_typed_text_is_escaped(season, declared):
    finding = found(
        season, "x.y", "error", [("handlings!4", "remarks", "<u>x</u>")], "<script>1</script>\x00"
    )
    text = page_text(Report("<b>s</b>", identify([finding]), notices=("<i>",)), season, declared)
    page = html.document_fromstring(text)
    assert not page.xpath("//script|//i|//u|//main//b[not(@class)]")
    assert "<b>s</b>" in page.xpath("string(//h1)")
    assert "\x00" not in text


def test_what_did_not_run_and_cautions(page):
    text = page.text_content()
    assert "no table 'tag_reads'" in text
    assert "column K <unnamed> was not read" in text
    assert "local law" in text
    assert page.xpath("//section[@class='caution']//strong/text()")[0].startswith("Barn owl")


def test_a_clean_season_has_a_page_too(season, declared):
    text = page_text(Report("s", (), rows_read=(("handlings", 6),)), season, declared)
    page = html.document_fromstring(text)
    assert page.xpath("string(//p[@class='lead'])") == "Nothing found."
    assert not page.xpath("//details[starts-with(@id, 'box')]")


def test_two_thousand_findings_in_a_large_season_are_all_there(declared, tmp_path):
    rows = invented_season(3, large_style(5000))["handlings"]
    season = typed_season(declared, handlings=rows)
    rng = np.random.default_rng(1)
    labels = list(season.frame("handlings").index)
    findings = [
        found(
            season,
            f"tare.kind{i % 5}",
            "suspect",
            [(rng.choice(labels), "net_g", "373")],
            f"Slip number {i}.",
        )
        for i in range(2000)
    ]
    report = Report("large", identify(sort_findings(findings)), rows_read=(("handlings", len(rows)),))
    write_page(report, season, declared, tmp_path / "large.html")
    assert (tmp_path / "large.html").stat().st_size < 3_000_000
    page = html.document_fromstring((tmp_path / "large.html").read_text(encoding="utf-8"))
    assert len(page.xpath("//ul[@class='found']/li")) == 2000
    assert not page.xpath("//details[starts-with(@id, 'box')][@open]")


def test_rows_without_box_or_day_come_last(season, declared):
    report = small_report(season)
    bare = found(season, "x.y", "note", [("visits!2", "alive", "")], "No box.")
    cell = replace(
        bare.suspects[0].cell,
        label="elsewhere!2",
        sheet="elsewhere",
        marks=type(bare.suspects[0].cell.marks)(),
    )
    bare = replace(bare, suspects=(replace(bare.suspects[0], cell=cell),))
    text = page_text(replace(report, findings=(bare, *report.findings)), season, declared)
    names = html.document_fromstring(text).xpath("//summary/strong/text()")
    assert names == ["SL-01", "SL-02", "no box"]

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from asked_season import asks, bird, label, rows, season_of

from audit.findings import Finding, Suspect
from audit.handover.query.page import page_piece, page_text
from audit.handover.query.sheet import make_query, write_query
from audit.handover.query.words import CAUTION, HOW_TO, day_words
from audit.refusal import Refusal


class Texts(HTMLParser):
    """Text of a page without its style, and its tags."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.parts: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self._in_style = False
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        self._in_style = tag == "style"

    def handle_endtag(self, _tag):
        self._in_style = False

    def handle_data(self, data):
        if not self._in_style:
            self.parts.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.parts).split())


@pytest.fixture
def sheet(declared):
    season = season_of(rows())
    return make_query(season, declared, asks(season, [(label(3), "net_g")], [(label(7), "ring")]))


def test_each_question_has_its_place_its_text_and_room_for_the_answer(sheet):
    page = Texts(page_text(sheet)).text
    assert "2 questions on 2 pages of the field notebook." in page
    assert "2026-06-13 (Saturday), box SL-10 from 11:00, ringer AB, scribe IP, 3 birds in the hand" in page
    assert (
        "2 bird 2 of 3, ring SV01002, 11:04, between SV01001 and SV01003 typed in handlings I3 "
        "net_g: typed 302 Sentence 1. Look for gross, bag and net of this line, the units, and the bag on "
        "the lines beside it. Asked because: smudged (AB). in the field notebook it says same as typed "
        "nothing written there cannot be read by whom remark" in page
    )


def test_the_page_says_how_and_that_no_box_is_visited_for_a_typing_error(sheet):
    page = Texts(page_text(sheet)).text
    assert HOW_TO in page
    assert CAUTION in page
    assert "Barn owl. Your licence, your ringing scheme and local law come before anything" in page


def test_nothing_is_fetched_or_run_and_nothing_can_be_filled_in_beforehand(sheet):
    html = page_text(sheet)
    tags = Texts(html).tags
    assert not {tag for tag, _ in tags} & {"script", "link", "img", "iframe", "input", "form"}
    assert not any(name in attributes for _, attributes in tags for name in ("src", "href", "onclick"))
    assert "url(" not in html
    assert "default-src 'none'" in html


def test_the_index_is_by_box_in_natural_order(declared):
    boxes = ["SL-10", "SL-9", "SL-2"]
    season = season_of([bird(box, 1001 + i, 300, 130) for i, box in enumerate(boxes)])
    sheet = make_query(season, declared, asks(season, *([(label(i), "net_g")] for i in (2, 3, 4))))
    assert [box for box, _ in sheet.by_box()] == ["SL-2", "SL-9", "SL-10"]
    assert (
        "SL-2 2026-06-13 (no. 3) SL-9 2026-06-13 (no. 2) SL-10 2026-06-13 (no. 1)"
        in Texts(page_text(sheet)).text
    )


def test_headings_repeat_and_questions_are_kept_whole(sheet):
    style = page_text(sheet).partition("@media print{\n@page{size:auto")[2]
    assert "table-header-group" in style
    assert re.search(r"table\.visit tbody\{break-inside:avoid\}", style)


def test_typed_text_cannot_break_the_page(declared):
    season = season_of([bird("<b>SL", 1001, 300, 130, remarks="</table><script>x\x07")])
    (ask,) = asks(season, [(label(2), "remarks")])
    html = page_text(make_query(season, declared, [replace(ask, reason="<i>")]))
    assert "<script" not in html
    assert "<b>SL" not in html.replace("<B>", "<b>")
    assert "&lt;i&gt;" in html
    assert "x\ufffd" in html


def test_a_row_that_is_gone_is_named_at_the_end(declared):
    season = season_of(rows())
    log = asks(season, [(label(3), "net_g")], [(label(7), "ring")])
    gone = season_of([row for row in rows() if row["ring"] != "SV01002"])
    sheet = make_query(gone, declared, log)
    assert len(sheet.questions) == 1
    (lost,) = sheet.lost
    assert lost == (
        "2026-06-13 SL-10 SV01002: net_g 302, asked by AB, because: smudged. "
        "No row holds what row 3 of sheet 'handlings' held."
    )
    assert lost in Texts(page_text(sheet)).text


def test_suggestions_stand_behind_all_questions(declared):
    season = season_of(rows())
    said = "Gross 302 g less bag 24 g is 278 g, but net says 302 g."
    (ask,) = asks(season, [(label(3), "net_g")])
    suspects = (Suspect(season.cell(label(3), "net_g"), "278", 0.9, 0.9),)
    found = [Finding("tare.x", "error", suspects, said, identity="finding1")]
    ask = replace(ask, asked=said)
    assert "278" not in Texts(page_text(make_query(season, declared, [ask], found))).text
    page = Texts(page_text(make_query(season, declared, [ask], found, suggestions=True))).text
    before, _, after = page.partition("What was probably meant")
    assert "278" not in before
    assert "278" in after


def test_a_notebook_shows_the_same(sheet):
    html = page_piece(sheet)
    assert sheet._repr_html_() == html
    assert "bird 2 of 3" in html
    assert "box SL-10" in repr(sheet)


def test_files_are_written_whole_and_never_over_the_season(sheet, tmp_path):
    written = write_query(sheet, tmp_path / "out")
    assert [path.name for path in written] == [f"season.questions.{end}" for end in ("html", "pdf", "xlsx")]
    assert all(path.stat().st_size for path in written)
    with pytest.raises(Refusal):
        write_query(sheet, tmp_path / "out", [written[2]])


def test_days_bear_their_weekday():
    # ISO 8601-1:2019 says of 2026: 1 January is a Thursday of week 1
    assert day_words("2026-01-01") == "2026-01-01 (Thursday)"

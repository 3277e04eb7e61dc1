"""The print, read back by a library that has nothing to do with the one that made it."""

from __future__ import annotations

import io
import re
import sys
import time
from dataclasses import replace

import pytest
from asked_season import asks, bird, label, rows, season_of
from pypdf import PdfReader
from pypdf.generic import ContentStream
from pypdfium2 import PdfDocument

from audit.findings import Finding, Suspect
from audit.handover.query.print import print_bytes, write_print
from audit.handover.query.sheet import make_query
from audit.refusal import Refusal
from audit.review.decisions import Decision
from audit.review.places import decided_cell

#: Letters of languages of Europe, and signs of field notes.
LETTERS = "ÅåÄäÆæÇçČčĎďÐðÉéĘęĞğĦħİıĶķŁłŃńŇňŒœØøŐőŘřŞşȘșŠšßŢţȚțÞþŬŭŮůŰűŴŵŶŷŻżŽžЖжЂђЩщЇїΆΩω"
SIGNS = "→ ♀ ♂ µ ± ° × … ½ ² – — „x“ ‘y’ «z» † ≈ ≤ ≥"
MM_PER_POINT = 25.4 / 72


def pages_of(pdf: bytes) -> list[str]:
    return [page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages]


def plain(text: str) -> str:
    return " ".join(text.replace("\u200b", "").split())


@pytest.fixture(scope="module")
def many(declared):
    """Sixty questions in one visit, and one in each of ten others."""
    lines = [bird("SL-01", 2000 + i, 300 + i, 130) for i in range(60)]
    lines += [bird(f"SL-{i:02}", 3000 + i, 310, 130, date="2026-06-14") for i in range(2, 12)]
    season = season_of(lines)
    cells = [[(label(i + 2), "net_g")] for i in range(70)]
    log = [replace(one, asked=f"Sentence {one.identity}.", reason="") for one in asks(season, *cells)]
    return make_query(season, declared, log)


@pytest.fixture(scope="module")
def printed(many):
    return print_bytes(many)


def asked_with(declared, reason, **typed):
    season = season_of([*rows(), bird("SL-03", 1020, 300, 120, **typed)])
    (ask,) = asks(season, [(label(13), "remarks" if "remarks" in typed else "net_g")])
    return make_query(season, declared, [replace(ask, reason=reason)])


def test_letters_and_signs_come_out_as_they_were_written(declared):
    pdf = print_bytes(asked_with(declared, f"{LETTERS} {SIGNS}", remarks=f"{LETTERS} {SIGNS}"))
    text = plain("".join(pages_of(pdf)))
    assert plain(SIGNS) in text
    # a long word may break at the end of a line
    assert text.replace(" ", "").count(LETTERS) == 2
    assert not missing_glyphs(pdf)


def missing_glyphs(pdf: bytes) -> int:
    """Count glyphs of number 0: the box for a letter that a font has not (ISO 32000-1, 9.7.6.3)."""
    reader = PdfReader(io.BytesIO(pdf))
    missing = 0
    for page in reader.pages:
        content = ContentStream(page.get_contents(), reader)
        for operands, operator in content.operations:
            if operator in (b"Tj", b"TJ"):
                parts = operands[0] if operator == b"TJ" else operands
                codes = [part.original_bytes for part in parts if hasattr(part, "original_bytes")]
                missing += sum(code[i : i + 2] == b"\0\0" for code in codes for i in range(0, len(code), 2))
    return missing


def test_a_letter_that_no_font_has_is_noticed_by_the_check_itself(declared):
    assert missing_glyphs(print_bytes(asked_with(declared, "\U00012000")))


def test_every_page_says_which_of_how_many_and_of_which_season(printed):
    pages = pages_of(printed)
    assert len(pages) > 5
    for number, text in enumerate(pages, 1):
        assert f"page {number} of {len(pages)}" in plain(text)
        assert "Season season: questions for the field notebook" in plain(text)


def test_the_head_of_a_visit_is_repeated_on_every_page_of_it(printed):
    for text in pages_of(printed):
        if re.search(r"Sentence ask\d+", text):
            assert re.search(r"2026-06-1[34] \([SF]\w+\), box SL-\d\d", plain(text))
    on = [text for text in pages_of(printed) if "2026-06-13 (Saturday), box SL-01" in plain(text)]
    assert len(on) > 5


def test_a_question_is_never_torn_apart(printed):
    asked = 0
    for text in pages_of(printed):
        here = len(re.findall(r"Sentence ask\d+", text))
        asked += here
        assert plain(text).count("in the field notebook it says") == here
        assert plain(text).count("same as typed") == here
        assert plain(text).count("remark") == here
    assert asked == 70


def test_a_short_visit_stays_on_one_page(declared):
    lines = [bird(f"SL-{i // 3:02}", 2000 + i, 300, 130) for i in range(24)]
    season = season_of(lines)
    sheet = make_query(season, declared, asks(season, *([(label(i + 2), "net_g")] for i in range(24))))
    for text in pages_of(print_bytes(sheet)):
        assert len(re.findall(r"Sentence \d+\.", text)) % 3 == 0


def test_the_index_names_the_right_page(printed):
    pages = [plain(text) for text in pages_of(printed)]
    told = dict(re.findall(r"(SL-\d\d) 2026-06-1\d \(no\. [\d, ]+, page (\d+)\)", " ".join(pages[:2])))
    assert len(told) == 11
    for box, number in told.items():
        assert re.search(rf"2026-06-1\d \(\w+\), box {box}\b", pages[int(number) - 1])


def test_nothing_runs_over_the_edge(declared):
    word = "W" * 400
    margin = 17 / MM_PER_POINT - 1
    sheet = asked_with(declared, f"{word} {'1' * 300}", remarks=word, box=f"SL-{'9' * 60}")
    for page in PdfDocument(print_bytes(sheet)):
        width, height = page.get_size()
        texts = page.get_textpage()
        for i in range(texts.count_chars()):
            left, bottom, right, top = texts.get_charbox(i)
            if right > left:
                assert left >= margin
                assert right <= width - margin
                assert 0 <= bottom <= top <= height
    text = plain("".join(pages_of(print_bytes(sheet)))).replace(" ", "")
    assert word in text


def test_a_question_longer_than_a_page_is_printed_whole(declared):
    long = " ".join(f"word{i}" for i in range(1500))
    pages = pages_of(print_bytes(asked_with(declared, long)))
    text = plain("".join(pages))
    assert all(f"word{i}" in text for i in range(1500))


def test_the_same_sheet_gives_the_same_bytes(many, printed):
    time.sleep(1.1)
    assert print_bytes(many) == printed
    assert b"CreationDate" not in printed


@pytest.mark.parametrize(("paper", "size"), [("a4", (210, 297)), ("letter", (216, 279))])
def test_both_papers(many, tmp_path, paper, size):
    write_print(many, tmp_path / "q.pdf", paper=paper)
    page = PdfReader(tmp_path / "q.pdf").pages[0]
    assert (
        round(float(page.mediabox.width) * MM_PER_POINT),
        round(float(page.mediabox.height) * MM_PER_POINT),
    ) == size


def test_another_paper_is_refused(many):
    with pytest.raises(Refusal, match="There is no paper 'a3'"):
        print_bytes(many, paper="a3")


def probably(season):
    said = "Gross 302 g less bag 24 g is 278 g, but net says 302 g."
    suspects = (Suspect(season.cell(label(3), "net_g"), "278", 0.9, 0.9),)
    finding = Finding("tare.x", "error", suspects, said, identity="finding1")
    ask = Decision(
        "ask1",
        "2026-08-01T08:00:00+02:00",
        "AB",
        "ask",
        (decided_cell(season, label(3), "net_g", None),),
        findings=("finding1",),
        asked=said,
    )
    return ask, finding


def test_what_was_probably_meant_stands_on_the_last_page_if_anywhere(declared):
    season = season_of(rows())
    ask, finding = probably(season)
    without = pages_of(print_bytes(make_query(season, declared, [ask], [finding])))
    assert "278" not in "".join(without)
    told = pages_of(print_bytes(make_query(season, declared, [ask], [finding], suggestions=True)))
    assert "278" not in "".join(told[:-1])
    assert "278" in told[-1]
    assert len(told) == len(without) + 1


def test_typed_text_is_never_taken_for_instructions(declared):
    typed = "#panic() $x^2$ *b* _i_ <tag> [x] // no @ref `raw` \\ = head"
    text = plain("".join(pages_of(print_bytes(asked_with(declared, "", remarks=typed)))))
    assert typed in text


def test_a_sheet_without_questions_says_so(declared):
    (text,) = pages_of(print_bytes(make_query(season_of(rows()), declared, [])))
    assert "No question is open." in text
    assert "no bird and no box is visited for a typing error" in plain(text)


def test_the_setter_is_loaded_late():
    import subprocess

    told = subprocess.run(
        [sys.executable, "-c", "import sys, audit.querying; print('typst' in sys.modules)"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert told.stdout.strip() == "False"

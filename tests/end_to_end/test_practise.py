"""A round of practice through the command line: make a sheet, fill it in, mark it, look it over."""

from __future__ import annotations

import json
from functools import cache

import openpyxl
import pypdfium2
import pytest
from sheets import opendocument

import audit
from audit.practice.exercise.exercise import exercise_from
from audit.practice.exercise.filled import read_marked
from audit.practice.exercise.recipe import recipe_in

LEVEL = ("--level", "2")


def made(nestproof, out, *words):
    told = nestproof("practise", "--out", out, "--trainee", "AB", *words, out=out)
    assert (told.code, told.err) == (0, ""), told.err
    return next(path for path in out.glob("*.xlsx"))


@cache
def made_again(code):
    return exercise_from(recipe_in(code), audit.checking.declarations_of(None))


def fill(path, change=None, *, who=""):
    """Type over cells, as a trainee does in a spreadsheet program."""
    book = openpyxl.load_workbook(path)
    page = book["page"]
    code = next(cell.offset(0, 2).value for cell in page["A"] if cell.value == "code of this sheet")
    exercise = made_again(code)
    top = next(cell.row for cell in page["A"] if cell.value == "line")
    for (label, field), text in (change(exercise) if change else {}).items():
        page.cell(top + exercise.line(label), 2 + exercise.fields.index(field)).value = text
    if who:
        page["C3"] = who
    book.save(path)
    return exercise


def right(exercise):
    return {place: float(change.meant) for place, change in exercise.changes.items()}


def test_a_round_of_practice(nestproof, tmp_path):
    out = tmp_path / "practice"
    path = made(nestproof, out, *LEVEL)
    assert path.name == "practice-AB-barn_owl-tare-1.xlsx"
    names = {str(file.relative_to(out)) for file in out.rglob("*") if file.is_file()}
    stem = path.stem
    assert names == {f"{stem}.{end}" for end in ("xlsx", "html", "pdf")} | {
        f"keys/{stem}.key.{end}" for end in ("html", "pdf")
    }
    fill(path, right)
    told = nestproof("practise", "--out", out, "--marked", path, out=out)
    assert (told.code, told.err) == (0, "")
    assert "1 of 1 slip found, 1 mended" in told.out
    assert "The audit says: Gross" in told.out
    assert (out / f"{stem}.result.html").is_file()
    (line,) = (out / "practice.progress.jsonl").read_text(encoding="utf-8").splitlines()
    assert json.loads(line)["kinds"] == [{"kind": "tare", "slips": 1, "found": 1, "mended": 1, "asked": 0}]
    # marked twice, kept once
    nestproof("practise", "--out", out, "--marked", path, out=out)
    assert len((out / "practice.progress.jsonl").read_text(encoding="utf-8").splitlines()) == 1
    told = nestproof("practise", "--out", out, "--overview", out=out)
    assert (told.code, told.err) == (0, "")
    assert "AB: 1 sheet." in told.out
    assert (out / "practice.overview.html").is_file()
    # the next sheet is another one
    nestproof("practise", "--out", out, "--trainee", "AB", *LEVEL, out=out)
    assert (out / "practice-AB-barn_owl-tare-2.xlsx").is_file()


def test_the_print_holds_the_sheet_and_only_the_keyed_one_its_key(nestproof, tmp_path):
    path = made(nestproof, tmp_path, *LEVEL)
    texts = []
    for file in (path.with_suffix(".pdf"), tmp_path / "keys" / f"{path.stem}.key.pdf"):
        document = pypdfium2.PdfDocument(file)
        texts.append([page.get_textpage().get_text_range() for page in document])
    sheet, keyed = texts
    assert len(keyed) == len(sheet) + 1
    assert "Look for what cannot be right" in " ".join(sheet[0].split())
    assert "was meant." in keyed[-1]
    assert "The audit says" in keyed[-1]
    assert "The audit says" not in "".join(sheet)


def test_a_sheet_is_made_the_same_again(nestproof, tmp_path):
    files = []
    for folder in ("one", "other"):
        path = made(nestproof, tmp_path / folder, *LEVEL, "--seed", "3")
        files.append([path.with_suffix(end).read_bytes() for end in (".html", ".pdf")])
    assert files[0] == files[1]


def test_a_sheet_that_nobody_marked_is_refused_unless_somebody_says_that_nothing_is_wrong(
    nestproof, tmp_path
):
    path = made(nestproof, tmp_path, *LEVEL)
    told = nestproof("practise", "--out", tmp_path, "--marked", path, out=tmp_path)
    assert told.code == 2
    assert "Nothing was marked on this sheet yet." in told.err
    assert not (tmp_path / "practice.progress.jsonl").exists()
    fill(path, who="AB")
    told = nestproof("practise", "--out", tmp_path, "--marked", path, out=tmp_path)
    assert (told.code, told.err) == (0, "")
    assert "0 of 1 slip found" in told.out


def test_lines_may_be_sorted_and_remarks_are_no_answers(nestproof, tmp_path):
    path = made(nestproof, tmp_path, "--level", "hard_to_read", "--seed", "4")
    exercise = fill(path, lambda one: {one.doubtful[0]: "ask", (one.labels[0], "remarks"): "why?"})
    book = openpyxl.load_workbook(path)
    page = book["page"]
    first, last = 5, 4 + len(exercise.labels)
    rows = [[cell.value for cell in row] for row in page.iter_rows(first, last)]
    for i, row in enumerate(reversed(rows), first):
        for j, value in enumerate(row, 1):
            page.cell(i, j).value = value
    book.save(path)
    _, answers = read_marked(path, audit.checking.declarations_of(None))
    assert [(answer.place, answer.text) for answer in answers] == [(exercise.doubtful[0], "ask")]


def test_a_sheet_saved_by_another_spreadsheet_program_is_read(nestproof, tmp_path):
    path = made(nestproof, tmp_path, *LEVEL)
    exercise = fill(path, right)
    page = openpyxl.load_workbook(path)["page"]
    rows = [["" if value is None else value for value in row] for row in page.values]
    saved = opendocument(tmp_path / "saved.ods", {"page": rows})
    again, answers = read_marked(saved, audit.checking.declarations_of(None))
    assert again.recipe == exercise.recipe
    assert {answer.place: float(answer.text) for answer in answers} == right(exercise)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--trainee", "AB", "--level", "99"), "There is no level '99'."),
        (("--trainee", "A/B"), "'A/B' are no initials."),
        (("--trainee", "AB", "--species", "phoenix"), "No page can be invented"),
        (("--marked", "nothing.xlsx"), "nothing.xlsx"),
    ],
)
def test_what_cannot_be_done_is_said(nestproof, tmp_path, words, said):
    told = nestproof("practise", "--out", tmp_path, *words, out=tmp_path)
    assert told.code == 2
    assert said in told.err
    assert "cure:" in told.err
    assert "Traceback" not in told.err


def test_another_workbook_is_refused(nestproof, tmp_path):
    book = openpyxl.Workbook()
    book.active["A1"] = "date"
    book.save(tmp_path / "season.xlsx")
    told = nestproof("practise", "--out", tmp_path, "--marked", tmp_path / "season.xlsx", out=tmp_path)
    assert told.code == 2
    assert "This is no practice sheet" in told.err


def test_a_lost_line_is_refused(nestproof, tmp_path):
    path = made(nestproof, tmp_path, *LEVEL)
    fill(path, right)
    book = openpyxl.load_workbook(path)
    book["page"].delete_rows(6)
    book.save(path)
    told = nestproof("practise", "--out", tmp_path, "--marked", path, out=tmp_path)
    assert told.code == 2
    assert "Line 2 is not on the sheet any more." in told.err


def test_practice_at_a_prompt(tmp_path):
    practice = audit.practise("AB", level="tare", progress=tmp_path / "p.jsonl")
    assert "<table" in practice._repr_html_()
    assert "Practice sheet 1 for AB" in repr(practice)
    ((place, change),) = practice.exercise.changes.items()
    marked = practice.mark({(practice.exercise.line(place[0]), "net"): change.meant})
    assert marked.score.counts == {"mended": 1}
    assert "You put it right." in marked._repr_html_()
    assert practice.next().exercise.recipe.seed == 2
    assert "The bag" in practice.overview()._repr_html_()
    assert "AB: 1 sheet." in repr(practice.overview())


def test_a_round_of_reading_is_written_with_its_key_apart(nestproof, tmp_path):
    out = tmp_path / "practice"
    told = nestproof(
        "practise", "--out", out, "--trainee", "AB", "--drill", "reading", "--level", "worn", out=out
    )
    assert (told.code, told.err) == (0, ""), told.err
    assert "Reading drill 1 for AB: worn and turned" in told.out
    assert sorted(path.name for path in out.glob("*.*")) == [
        "reading-AB-worn-1.answers.csv",
        "reading-AB-worn-1.html",
        "reading-AB-worn-1.pdf",
    ]
    with pypdfium2.PdfDocument(out / "keys" / "reading-AB-worn-1.key.pdf") as paper:
        last = paper[len(paper) - 1].get_textpage().get_text_bounded()
    shown = audit.read_practice("AB", level="worn").round.shown
    assert all(one.meant in last for one in shown)


def test_a_level_that_a_drill_does_not_have_is_refused(nestproof, tmp_path):
    out = tmp_path / "practice"
    told = nestproof(
        "practise", "--out", out, "--trainee", "AB", "--drill", "reading", "--level", "14", out=out
    )
    assert told.code == 2
    assert "no level '14'" in told.err

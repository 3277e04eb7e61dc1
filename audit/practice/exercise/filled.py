"""A marked practice sheet as it comes back: what was typed over is what was marked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.intake.sources import open_source
from audit.practice.exercise.answers import Answer
from audit.practice.exercise.exercise import exercise_from
from audit.practice.exercise.recipe import recipe_in
from audit.practice.exercise.words import heading
from audit.practice.exercise.workbook import CODE, LINE, MARKED_BY, PAGE
from audit.refusal import Refusal
from audit.rules.plain import plain_text

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from audit.declarations import Declarations
    from audit.intake.grid import RawCell, Sheet
    from audit.practice.exercise.exercise import Exercise

__all__ = ["read_marked"]

#: Remarks may be written for oneself: they are no answer.
_FREE = "remarks"


def read_marked(path: Path, declared: Declarations) -> tuple[Exercise, tuple[Answer, ...]]:
    """Read a marked practice sheet.

    Parameters
    ----------
    path : Path
        The workbook as `nestproof practise` wrote it, with cells typed over: .xlsx or .ods. Its lines may
        have been sorted; it is never written to.

    Returns
    -------
    Exercise, tuple of Answer
        The sheet, made again, and every cell that holds another text than was typed.

    Raises
    ------
    audit.refusal.Refusal
        The file cannot be read, is no practice sheet, or lacks a line; or the sheet cannot be made again.
    """
    sheets = open_source(path, declared).sheets
    page = next((sheet for sheet in sheets if sheet.name == PAGE), sheets[0] if sheets else None)
    code = _beside(page, CODE) if page is not None else ""
    if page is None or not code:
        raise Refusal(
            f"This is no practice sheet: no cell says '{CODE}'.",
            where=str(path),
            cure="Give the workbook that 'nestproof practise' wrote, with sheet 'page' and its code kept.",
        )
    exercise = exercise_from(recipe_in(code), declared)
    answers = tuple(_answers(page, exercise, path))
    if not answers and not _beside(page, MARKED_BY):
        raise Refusal(
            "Nothing was marked on this sheet yet.",
            where=f"{path}, sheet {page.name}",
            cure=f"Mark it; where nothing is wrong on it, write your initials beside '{MARKED_BY}'.",
        )
    return exercise, answers


def _beside(sheet: Sheet, words: str) -> str:
    """Text that stands behind some words in the same row."""
    for row in sheet.rows:
        texts = [cell.text.strip() for cell in row if not cell.merged]
        if words in [text.casefold() for text in texts]:
            at = [text.casefold() for text in texts].index(words)
            return next((text for text in texts[at + 1 :] if text), "")
    return ""


def _answers(sheet: Sheet, exercise: Exercise, path: Path) -> Iterator[Answer]:
    columns, top = _headings(sheet, exercise, path)
    lines = _lines(sheet.rows[top + 1 :], columns[LINE])
    for number, label in enumerate(exercise.labels, 1):
        row = lines.get(str(number))
        if row is None:
            raise Refusal(
                f"Line {number} is not on the sheet any more.",
                where=f"{path}, sheet {sheet.name}",
                cure="Mark a fresh copy of the workbook, or number the line in its first column.",
            )
        for field in exercise.fields:
            if field == _FREE:
                continue
            at = columns[heading(field)]
            text = _text(row[at]) if at < len(row) else ""
            if text != exercise.typed((label, field)):
                yield Answer((label, field), text)


def _text(cell: RawCell) -> str:
    """Text of a cell; of one that somebody works out, its result."""
    return " ".join((plain_text(cell.value) if cell.formula else cell.text).split())


def _headings(sheet: Sheet, exercise: Exercise, path: Path) -> tuple[Mapping[str, int], int]:
    wanted = [LINE, *(heading(field) for field in exercise.fields)]
    for i, row in enumerate(sheet.rows):
        texts = [" ".join(cell.text.split()).casefold() for cell in row]
        if set(wanted) <= set(texts):
            return {name: texts.index(name) for name in wanted}, i
    raise Refusal(
        "The headings of the practice sheet are not all there.",
        where=f"{path}, sheet {sheet.name}",
        cure=f"Keep the row with the headings {', '.join(wanted)}.",
    )


def _lines(rows: Sequence[Sequence[RawCell]], at: int) -> dict[str, Sequence[RawCell]]:
    found: dict[str, Sequence[RawCell]] = {}
    for row in rows:
        number = row[at].text.strip().removesuffix(".0") if at < len(row) else ""
        if number:
            found.setdefault(number, row)
    return found

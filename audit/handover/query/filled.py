"""A filled query sheet as it comes back: .xlsx, .ods or .csv, sorted anew, lines deleted, columns added."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.handover.query.words import ANSWER, BY_WHOM, IDENTITY, LOOKED_UP, MARKS, REMARK
from audit.intake.delimited import read_delimited
from audit.intake.grid import column_letter
from audit.intake.sources import open_source
from audit.refusal import SeasonRefusal

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from audit.declarations import Declarations
    from audit.intake.grid import RawCell, Sheet

__all__ = ["FilledLine", "NotTaken", "by_place", "read_filled"]

_TEXT_FILES = (".csv", ".tsv", ".txt")
#: Records of a text file that are looked at to find the separator; the headings stand below a few lines.
_SEARCHED = 20
#: What people write for a tick, and for none.
_YES = frozenset(
    {"yes", "y", "x", "true", "1", "ja", "j", "oui", "o", "si", "s\u00ed", "s", "\u2713", "\u2714", "\u2611"}
)
_NO = frozenset({"", "no", "n", "false", "0", "nein", "non", "nee", "-", "\u2610"})


@dataclass(frozen=True, slots=True)
class NotTaken:
    """A line that is not taken over, and how to mend it.

    Attributes
    ----------
    where : str
        Sheet and cell.
    what, cure : str
    """

    where: str
    what: str
    cure: str

    def __str__(self) -> str:
        return f"{self.where}: {self.what} {self.cure}".strip()


def by_place(told: NotTaken) -> tuple[str, int, str]:
    """Sort key: by sheet, then row by row."""
    sheet, _, address = told.where.rpartition(" ")
    letters = address.rstrip("0123456789")
    return sheet, int(address[len(letters) :] or 0), letters


@dataclass(frozen=True, slots=True)
class FilledLine:
    """One line that somebody has filled in.

    Attributes
    ----------
    where : str
        Sheet and cell of the answer, such as ``questions G7``.
    identity : str
        Of the question.
    says : str
        What the notebook says, without blanks around it; empty where a mark stands.
    marks : tuple of str
        Those of `audit.handover.query.words.MARKS` that were ticked.
    who, remark : str
        Empty where nothing was written.
    doubts : tuple of str
        What keeps the line from being taken as it stands.
    """

    where: str
    identity: str
    says: str
    marks: tuple[str, ...]
    who: str
    remark: str
    doubts: tuple[NotTaken, ...] = ()


def read_filled(path: Path, declared: Declarations) -> tuple[FilledLine, ...]:
    """Read the lines of a filled query sheet in which anything was answered.

    Raises
    ------
    audit.refusal.SeasonRefusal
        The file cannot be read, or is no query sheet.
    """
    lines: list[FilledLine] = []
    known = False
    for sheet in _sheets(path, declared):
        found = _headings(sheet)
        if found is not None:
            known = True
            lines += _filled(sheet, *found)
    if not known:
        raise SeasonRefusal(
            f"This is no query sheet: there is no line with the headings '{ANSWER}' and '{IDENTITY}'.",
            where=str(path),
            cure="Give the workbook that 'nestproof questions' wrote, filled in, with its headings kept.",
        )
    return tuple(lines)


def _sheets(path: Path, declared: Declarations) -> Sequence[Sheet]:
    if path.suffix.lower() in _TEXT_FILES and path.is_file():
        known = {_plain(heading) for heading in (ANSWER, BY_WHOM, IDENTITY, REMARK, *MARKS)}
        try:
            return [read_delimited(path, known, _SEARCHED)]
        except OSError as fault:
            raise SeasonRefusal(
                f"The file cannot be opened ({fault.strerror or fault}).",
                where=str(path),
                cure="Close it in other programs, check that you may read it, and try again.",
            ) from fault
    return open_source(path, declared).sheets


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())


def _headings(sheet: Sheet) -> tuple[int, dict[str, int]] | None:
    """Find the row of the headings, and the column of each; of two that are alike the first counts."""
    wanted = {_plain(heading): heading for heading in (ANSWER, BY_WHOM, IDENTITY, REMARK, *MARKS)}
    for i, row in enumerate(sheet.rows):
        columns: dict[str, int] = {}
        for j, cell in enumerate(row):
            heading = wanted.get(_plain(cell.text))
            if heading is not None:
                columns.setdefault(heading, j)
        if ANSWER in columns and IDENTITY in columns:
            return i, columns
    return None


def _filled(sheet: Sheet, top: int, columns: Mapping[str, int]) -> Iterator[FilledLine]:
    for_all = _looked_up_by(sheet.rows[:top])
    for i, row in enumerate(sheet.rows[top + 1 :], top + 2):
        cells = {heading: row[j] for heading, j in columns.items() if j < len(row) and row[j].text.strip()}
        places = {heading: f"{sheet.name} {column_letter(j)}{i}" for heading, j in columns.items()}
        line = _line(cells, places, for_all)
        if line is not None:
            yield line


def _looked_up_by(rows: Sequence[Sequence[RawCell]]) -> str:
    for row in rows:
        texts = [cell.text.strip() for cell in row if not cell.merged]
        for j, text in enumerate(texts):
            if _plain(text) == _plain(LOOKED_UP):
                return next((other for other in texts[j + 1 :] if other), "")
    return ""


def _line(cells: Mapping[str, RawCell], places: Mapping[str, str], for_all: str) -> FilledLine | None:
    doubts: list[NotTaken] = []
    texts = {heading: _text(cell, places[heading], doubts) for heading, cell in cells.items()}
    # a cell that is merged with others holds the answer of another line
    own = {heading: text for heading, text in texts.items() if not cells[heading].merged}
    ticked = []
    for mark in MARKS:
        word = _plain(own.get(mark, ""))
        if word in _YES:
            ticked.append(mark)
        elif word not in _NO:
            doubts.append(
                NotTaken(
                    places[mark],
                    f"'{own[mark]}' is neither yes nor empty.",
                    "Write yes, or leave the cell empty; what the notebook says goes into the column for it.",
                )
            )
    says, remark = own.get(ANSWER, ""), own.get(REMARK, "")
    if not (says or ticked or remark or doubts):
        return None
    return FilledLine(
        places[ANSWER],
        texts.get(IDENTITY, ""),
        says,
        tuple(ticked),
        texts.get(BY_WHOM, "") or for_all,
        remark,
        tuple(doubts),
    )


def _text(cell: RawCell, where: str, doubts: list[NotTaken]) -> str:
    if cell.formula:
        doubts.append(NotTaken(where, "The cell holds a formula.", "Type what the notebook says."))
    return " ".join(cell.text.split())

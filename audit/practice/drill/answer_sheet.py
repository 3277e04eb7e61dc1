"""The sheet that the answers of a round are written into, and read from once it is filled in."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, TypeVar

from audit.intake.sources import open_source
from audit.practice.drill.round_code import Coded
from audit.refusal import Refusal
from audit.rules.plain import plain_text

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from audit.declarations import Declarations
    from audit.intake.grid import RawCell

__all__ = ["AnswerSheet", "answered_drill"]

R = TypeVar("R", bound=Coded)
A = TypeVar("A")
_ROUND = "round"
_SIGNS = ",;\t"
_TEXTS = (".csv", ".txt", ".tsv")


@dataclass(frozen=True, slots=True)
class AnswerSheet(Generic[R, A]):
    """The form of the sheets of one drill.

    Attributes
    ----------
    drill : str
    head : tuple of str
        What is asked, then what is written, such as ``("weighing", "gross_g", "bag_g", "net_g")``.
    what : str
        What is to be written, for whoever has written nothing yet.
    questions : callable
        From a round to the name of each of its questions.
    again : callable
        Makes a round again from its code.
    taken : callable
        From a round and what was written, question by question, to its answers.
    """

    drill: str
    head: tuple[str, ...]
    what: str
    questions: Callable[[R], Sequence[str]]
    again: Callable[[str, Declarations], R]
    taken: Callable[[R, Sequence[Sequence[str]]], A]

    def write(self, made: R, path: Path) -> None:
        """Write an empty sheet as CSV."""
        empty = [""] * (len(self.head) - 1)
        with path.open("w", encoding="utf-8", newline="") as stream:
            writer = csv.writer(stream, lineterminator="\n")
            writer.writerow((_ROUND, *self.head))
            writer.writerows((made.code, question, *empty) for question in self.questions(made))

    def read(self, path: Path, declared: Declarations) -> tuple[R, A]:
        """Read a sheet that was filled in, as .csv, .xlsx or .ods; it is never written to.

        Raises
        ------
        audit.refusal.Refusal
            It cannot be read, is another file, its lines are not those of its round, or nothing was written.
        """
        width = 1 + len(self.head)
        top, *rows = [row[:width] + [""] * (width - len(row)) for row in _rows(path, declared)] or [[]]
        if [one.casefold() for one in top] != [_ROUND, *self.head] or len({row[0] for row in rows}) != 1:
            raise Refusal(
                f"This is no sheet of answers of the {self.drill} drill.",
                where=str(path),
                cure=f"Name a file that 'nestproof practise --drill {self.drill}' wrote, with all its lines.",
            )
        made = self.again(rows[0][0], declared)
        written = {row[1].casefold(): row[2:] for row in rows}
        wanted = self.questions(made)
        if sorted(written) != sorted(wanted) or len(rows) != len(wanted):
            raise Refusal(
                "The lines of the sheet are not those of its round.",
                where=str(path),
                cure=f"Keep one line for each {self.head[0]}: {', '.join(wanted)}.",
            )
        if not any(cell for row in written.values() for cell in row):
            raise Refusal(
                "Nothing was written into the sheet of answers yet.",
                where=str(path),
                cure=f"Write {self.what} into it, save it, and mark it then.",
            )
        return made, self.taken(made, [written[question] for question in wanted])


def answered_drill(path: Path, declared: Declarations) -> str:
    """Tell of which drill a file is a sheet of answers; empty where it is none, or cannot be read."""
    try:
        top, *rows = _rows(path, declared) or [[]]
    except Refusal:
        return ""
    is_answers = bool(top and rows) and top[0].casefold() == _ROUND
    return rows[0][0].partition(".")[0] if is_answers else ""


def _rows(path: Path, declared: Declarations) -> list[list[str]]:
    """Return the lines of the first sheet, without empty ones."""
    if path.is_dir():
        raise Refusal(
            "The sheet of answers cannot be read: this is a folder.", where=str(path), cure="Name the file."
        )
    if path.suffix.lower() in _TEXTS:
        lines = _text_lines(path)
    else:
        sheets = open_source(path, declared).sheets
        lines = [[_text(cell) for cell in row] for sheet in sheets[:1] for row in sheet.rows]
        if all(len(line) <= 1 for line in lines):
            # a program with another separator has put each line into one cell
            lines = _apart([line[0] if line else "" for line in lines])
    return [line for line in lines if any(line)]


def _text_lines(path: Path) -> list[list[str]]:
    try:
        content = path.read_bytes()
    except OSError as fault:
        raise Refusal(
            f"The sheet of answers cannot be read: {fault.strerror or fault}.",
            where=str(path),
            cure="See that it is there, and that you may read it.",
        ) from fault
    coding = "utf-16" if content.startswith((b"\xff\xfe", b"\xfe\xff")) else "utf-8-sig"
    try:
        text = content.decode(coding)
    except UnicodeDecodeError:
        # an older program for spreadsheets; codes and numbers are the same in it
        text = content.decode("latin-1")
    return _apart(text.splitlines())


def _apart(lines: list[str]) -> list[list[str]]:
    """Take lines apart by the sign that their header has most often."""
    sign = max(_SIGNS, key=lines[0].count) if lines else ","
    try:
        return [[" ".join(cell.split()) for cell in line] for line in csv.reader(lines, delimiter=sign)]
    except csv.Error:
        # whatever it is, it is no sheet of answers
        return [[" ".join(line.split())] for line in lines]


def _text(cell: RawCell) -> str:
    """Text of a cell; of one that somebody works out, its result."""
    return " ".join((plain_text(cell.value) if cell.formula else cell.text).split())

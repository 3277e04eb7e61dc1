"""Cells as a file stores them, before anything is understood."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

__all__ = [
    "EMPTY",
    "RawCell",
    "Sheet",
    "Stored",
    "column_letter",
    "column_number",
    "fill_merged",
    "make_sheet",
    "stored_text",
]

Stored = str | int | float | bool | dt.datetime | dt.date | dt.time | dt.timedelta | None


@dataclass(frozen=True, slots=True)
class RawCell:
    """One cell as stored.

    Attributes
    ----------
    value : str, int, float, bool, date, time, datetime, timedelta or None
        What the file stores; for a formula the stored result, None where there is none. Formulas never run.
    text : str
        As typed or shown: the string itself, the formula, a number in full digits, a date as ISO 8601.
    number_format : str
        Number format of a spreadsheet cell, such as ``000000000000000``; empty where there is none.
    formula : str
        The formula with its equals sign, empty where there is none. Of a range that one formula fills each
        cell has it.
    merged : bool
        The cell is covered by a merged range and repeats its top left cell.
    outdated : bool
        The formula depends on cells that were typed anew, and cannot be worked out anew for sure.
    plain : str
        The formula without tables and names, where it calls them: with the cells that they stand for.
    """

    value: Stored
    text: str
    number_format: str = ""
    formula: str = ""
    merged: bool = False
    outdated: bool = False
    plain: str = ""

    def __reduce__(self) -> tuple[type[RawCell], tuple[object, ...]]:
        """Be copied to another process by what it is made of: a season holds a hundred thousand."""
        made_of = (self.value, self.text, self.number_format, self.formula)
        return type(self), (*made_of, self.merged, self.outdated, self.plain)

    @property
    def in_cells(self) -> str:
        """The formula as it refers to cells."""
        return self.plain or self.formula


EMPTY = RawCell(None, "")


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet or file: ``rows[i]`` is spreadsheet row ``i + 1``, its cells from column A on.

    Attributes
    ----------
    book : str
        File of a sheet that does not lie in the season's own: formulas do not reach from one to the other.
    """

    name: str
    rows: tuple[tuple[RawCell, ...], ...]
    notices: tuple[str, ...] = ()
    book: str = ""


def make_sheet(name: str, rows: Sequence[Sequence[RawCell]], notices: Iterable[str] = ()) -> Sheet:
    """Make a sheet without the empty rows and cells that trail behind the last written ones."""
    trimmed = []
    for row in rows:
        end = len(row)
        while end and not row[end - 1].text.strip():
            end -= 1
        trimmed.append(tuple(row[:end]))
    while trimmed and not trimmed[-1]:
        trimmed.pop()
    return Sheet(name, tuple(trimmed), tuple(notices))


def fill_merged(rows: list[list[RawCell]], ranges: Iterable[tuple[int, int, int, int]]) -> None:
    """Repeat the top left cell of each merged range in the cells that it covers.

    Parameters
    ----------
    rows : list of list of RawCell
        Changed in place.
    ranges : iterable of (first row, first column, last row, last column)
        From 0, both ends included. A range that runs to the edge of the sheet is filled as far as anything is
        written.
    """
    ranges = tuple(ranges)
    if not ranges:
        return
    written = [max((j + 1 for j, cell in enumerate(row) if cell.text.strip()), default=0) for row in rows]
    width = max(written, default=0)
    height = max((i + 1 for i, end in enumerate(written) if end), default=0)
    for top, left, bottom, right in ranges:
        if top >= len(rows) or left >= len(rows[top]):
            continue
        first = rows[top][left]
        if not first.text:
            continue
        covered = RawCell(first.value, first.text, first.number_format, first.formula, merged=True)
        for i in range(top, min(bottom + 1, height)):
            row = rows[i]
            last = min(right + 1, width)
            row.extend([EMPTY] * (last - len(row)))
            for j in range(left, last):
                if (i, j) != (top, left):
                    row[j] = covered


def stored_text(value: Stored) -> str:
    """Write a stored value as it would be typed: all digits of a number, ISO 8601 dates, hours and minutes.

    Examples
    --------
    >>> stored_text(985121004515220.0), stored_text(1e25), stored_text(20.50), stored_text(dt.time(9, 30))
    ('985121004515220', '10000000000000000000000000', '20.5', '09:30')
    """
    if value is None:
        return ""
    if isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        if not math.isfinite(value):
            return str(value)
        # the shortest digits that mean this number, without the power of ten that hides a long code
        return format(Decimal(repr(value)), "f").removesuffix(".0")
    if isinstance(value, dt.datetime):
        plain = value.replace(tzinfo=None)
        return plain.date().isoformat() if plain.time() == dt.time() else plain.isoformat(sep=" ")
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, dt.time):
        return value.isoformat("minutes" if not (value.second or value.microsecond) else "auto")
    return _duration_text(value)


def _duration_text(value: dt.timedelta) -> str:
    seconds = round(value.total_seconds())
    sign, seconds = ("-", -seconds) if seconds < 0 else ("", seconds)
    minutes, seconds = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{sign}{hours}:{minutes:02}" + (f":{seconds:02}" if seconds else "")


def column_letter(index: int) -> str:
    """Letter of a column, counted from 0: A, B, ... Z, AA.

    Examples
    --------
    >>> column_letter(0), column_letter(25), column_letter(26), column_letter(701), column_letter(702)
    ('A', 'Z', 'AA', 'ZZ', 'AAA')
    """
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def column_number(letters: str) -> int:
    """Return the number of a column by its letter, counted from 1.

    Examples
    --------
    >>> column_number("A"), column_number("z"), column_number("AAA")
    (1, 26, 703)
    """
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - ord("A") + 1
    return number

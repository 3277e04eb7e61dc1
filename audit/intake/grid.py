"""Cells as a file stores them, before anything is understood."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

__all__ = ["EMPTY", "RawCell", "Sheet"]

Stored = str | int | float | bool | dt.datetime | dt.date | dt.time | dt.timedelta | None


@dataclass(frozen=True, slots=True)
class RawCell:
    """One cell as stored.

    Attributes
    ----------
    value : str, int, float, bool, date, time, datetime, timedelta or None
        What the file stores; for a formula the stored result, None where none is stored. Formulas are never run.
    text : str
        The text as typed or shown: the string itself, the formula, a number in full digits, a date as ISO 8601.
    number_format : str
        Number format of a spreadsheet cell, such as ``000000000000000``; empty where there is none.
    formula : str
        The formula with its equals sign, empty where there is none.
    merged : bool
        The cell is covered by a merged range and repeats its top left cell.
    """

    value: Stored
    text: str
    number_format: str = ""
    formula: str = ""
    merged: bool = False


EMPTY = RawCell(None, "")


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet or file: ``rows[i]`` is spreadsheet row ``i + 1``, its cells from column A on."""

    name: str
    rows: tuple[tuple[RawCell, ...], ...]
    notices: tuple[str, ...] = ()

"""What a cell of a spreadsheet holds once a text was typed into it, in the manner of its column."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from typing import TYPE_CHECKING, Any, Literal

import pandas as pd

from audit.intake.grid import stored_text

if TYPE_CHECKING:
    from collections.abc import Iterable

    from audit.declarations.tables import FieldDeclaration
    from audit.intake.grid import RawCell, Stored

__all__ = ["Manner", "manner_of", "typed_in"]

#: How the cells of a column are stored.
Manner = Literal["number", "text", "day", "time", "truth"]

#: A number as a spreadsheet shows it: nothing is lost when it is kept as a number.
_NUMBER = re.compile(r"-?(?:0|[1-9][0-9]{0,8})(?:\.[0-9]{0,5}[1-9])?")
#: Readings of a number after which nothing about it is in doubt.
_PLAIN = ("", "unit_converted")
#: Codes that may be numbers: those of boxes. Rings and tags are texts, whatever stands around them.
_NUMBERED = ("box",)


def manner_of(cells: Iterable[RawCell], kind: str = "") -> Manner:
    """Say how most cells of a column are stored; where none is, or two are as many, how its kind is.

    Parameters
    ----------
    kind : str
        Declared kind of the column; empty for a column of the team's own.
    """
    counted: Counter[Manner] = Counter()
    for cell in cells:
        if not cell.merged and cell.value is not None and cell.value != "":
            counted[_manner(cell.value)] += 1
    usual: Manner = "number" if kind in ("number", "integer") else "day" if kind == "date" else "text"
    most = max(counted.values(), default=0)
    return usual if counted[usual] == most else max(counted, key=lambda one: counted[one])


def _manner(value: Stored) -> Manner:
    if isinstance(value, bool):
        return "truth"
    if isinstance(value, int | float):
        return "number"
    if isinstance(value, dt.date):
        return "day"
    if isinstance(value, dt.time | dt.timedelta):
        return "time"
    return "text"


def typed_in(
    text: str,
    value: Any,  # noqa: ANN401 - a value of any column
    reading: str,
    field: FieldDeclaration | None,
    manner: Manner,
    scale: float = 1.0,
) -> Stored:
    """Say what a cell holds once a text was typed into it.

    Parameters
    ----------
    text : str
        As typed.
    value : object
        What it was understood as, in the field's unit; missing where nothing was.
    reading : str
        Kind of the reading, empty for a plain one.
    field : FieldDeclaration or None
        None for a column of the team's own.
    manner : Manner
        Of the column.
    scale : float
        How many of the field's unit one of the column's own units is.

    Returns
    -------
    Stored
        None where the cell is emptied; the text itself wherever a value would not say the same.
    """
    if not text:
        return None
    kind = field.kind if field is not None else ""
    known = not (value is None or value is pd.NA or value is pd.NaT or value != value)  # noqa: PLR0124 - NaN
    made: Stored = text
    if kind in ("number", "integer"):
        if known and manner == "number" and reading in _PLAIN:
            made = _number(float(value) / scale)
    elif kind in ("date", "datetime"):
        if known and manner == "day" and reading != "uncertain_mark":
            made = pd.Timestamp(value).to_pydatetime()
    elif kind == "time":
        if known and manner in ("time", "day") and not reading:
            made = dt.time.fromisoformat(str(value))
    elif kind == "boolean":
        if known and manner in ("truth", "number"):
            made = bool(value) if manner == "truth" else int(bool(value))
    elif manner == "number" and (kind != "code" or (field is not None and field.name in _NUMBERED)):
        number = _number(float(text)) if _NUMBER.fullmatch(text) else None
        made = number if number is not None and stored_text(number) == text else text
    return made


def _number(number: float) -> int | float:
    number = float(f"{number:.12g}")
    return int(number) if number.is_integer() else number

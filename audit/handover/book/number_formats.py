"""Whether the number format of a cell suits what it shall hold, and which one of its column does.

References
----------
ISO/IEC 29500-1, 18.8.30 (``numFmt``): numbers of the built-in formats, letters of days and times.
"""

from __future__ import annotations

import datetime as dt
import re
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Iterable

    from audit.handover.book.cell_styles import CellStyles
    from audit.intake.grid import Stored

__all__ = ["fitting", "shown_as"]

_TEXT = "49"
_DAYS = frozenset(map(str, (*range(14, 23), *range(27, 37), *range(45, 48), *range(50, 59))))
#: What is written out, or is no day or time although it holds such letters.
_SAID = re.compile(r'"[^"]*"|\\.|_.|\*.|\[(?!h+\]|m+\]|s+\])[^\]]*\]', re.IGNORECASE)
_LETTERS = re.compile(r"[dmyhs]", re.IGNORECASE)
_GENERAL, _DAY, _TIME, _MOMENT = "0", "14", "20", "22"


def shown_as(styles: CellStyles, identity: str) -> Literal["number", "day", "text"]:
    """Say what a number format makes of a number."""
    code = styles.format_code(identity)
    if identity == _TEXT or code == "@":
        return "text"
    return "day" if identity in _DAYS or _LETTERS.search(_SAID.sub("", code)) else "number"


def fitting(styles: CellStyles, style: int, value: Stored, alike: Iterable[int]) -> str:
    """Choose the number format in which a cell is shown.

    Parameters
    ----------
    style : int
        Of the cell.
    value : Stored
        What it shall hold.
    alike : iterable of int
        Styles of cells of the same column that hold the like, nearest first.

    Returns
    -------
    str
        Identity of the format; empty where that of the cell suits, as any does for a text.
    """
    if value is None or isinstance(value, str | bool):
        return ""
    needed = "day" if isinstance(value, dt.date | dt.time | dt.timedelta) else "number"
    if shown_as(styles, styles.number_format(style)) == needed:
        return ""
    for other in alike:
        identity = styles.number_format(other)
        if shown_as(styles, identity) == needed:
            return identity
    if needed == "number":
        return _GENERAL
    if isinstance(value, dt.datetime):
        return _DAY if value.time() == dt.time() else _MOMENT
    return _DAY if isinstance(value, dt.date) else _TIME

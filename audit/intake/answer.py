"""What one cell was understood to say."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

__all__ = ["MISSING", "UNREADABLE", "Answer", "day_or_moment", "plainly", "quoted"]

#: Kind of a cell in which nothing can be read.
UNREADABLE = "unreadable"

_LONGEST_QUOTE = 40


@dataclass(frozen=True, slots=True)
class Answer:
    """How one cell was understood.

    Attributes
    ----------
    value : object
        The typed value; None when the cell is empty or nothing can be read.
    kind : str
        Outcome of the rule ``reading``; empty for a plain cell.
    remark : str
        One clause for a person.
    shown : str
        What was understood, or what was probably meant where `value` is None, as a person would type it.
    """

    value: object = None
    kind: str = ""
    remark: str = ""
    shown: str = ""


MISSING = Answer()


def quoted(text: str) -> str:
    """Put the text as typed between quotes, shortened when it is long."""
    if len(text) > _LONGEST_QUOTE:
        text = text[: _LONGEST_QUOTE - 1] + "…"
    return f'"{text}"' if "'" in text else f"'{text}'"


def day_or_moment(value: dt.date | dt.time) -> str:
    """Write a date, time or moment as ISO 8601; a moment at midnight is a day.

    Examples
    --------
    >>> day_or_moment(dt.datetime(2026, 5, 4)), day_or_moment(dt.datetime(2026, 5, 4, 9, 30))
    ('2026-05-04', '2026-05-04 09:30:00')
    """
    if isinstance(value, dt.datetime):
        return value.date().isoformat() if value.time() == dt.time() else value.isoformat(sep=" ")
    return value.isoformat()


def plainly(number: float) -> str:
    """Write a number as a person would type it: whole numbers in full digits, no powers of ten.

    Examples
    --------
    >>> plainly(205.0), plainly(20.5), plainly(985121004515220.0)
    ('205', '20.5', '985121004515220')
    """
    return f"{number:.0f}" if float(number).is_integer() else f"{number:.10g}"

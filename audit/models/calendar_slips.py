"""What may happen to a date when it is written or typed."""

from __future__ import annotations

import datetime as dt
from string import digits
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["date_slips"]

_ONE_DAY = dt.timedelta(days=1)


def date_slips(day: dt.date) -> dict[dt.date, str]:
    """List the dates that a single slip turns into this one, with the slip.

    Parameters
    ----------
    day : datetime.date
        The date as typed.

    Returns
    -------
    dict of datetime.date to str
        Kind of slip: ``exchanged`` (day and month), ``year``, ``month``, ``day`` (one digit of it, or two
        neighbouring digits exchanged, or one left out or too many), ``next`` (the day before or after).

    Examples
    --------
    >>> slips = date_slips(dt.date(2026, 12, 6))
    >>> slips[dt.date(2026, 6, 12)], slips[dt.date(2025, 12, 6)], dt.date(2026, 6, 6) in slips
    ('exchanged', 'year', False)
    """
    found: dict[dt.date, str] = {}

    def add(year: int, month: int, number: int, kind: str) -> None:
        try:
            other = dt.date(year, month, number)
        except ValueError:
            return
        if other != day:
            found.setdefault(other, kind)

    add(day.year, day.day, day.month, "exchanged")
    for year in _numbers_near(f"{day.year:04d}"):
        add(year, day.month, day.day, "year")
    for month in _numbers_near(str(day.month), f"{day.month:02d}"):
        add(day.year, month, day.day, "month")
    for month in (day.month - 1, day.month + 1):
        add(day.year, month, day.day, "month")
    for number in _numbers_near(str(day.day), f"{day.day:02d}"):
        add(day.year, day.month, number, "day")
    for other in (day - _ONE_DAY, day + _ONE_DAY):
        found.setdefault(other, "next")
    return found


def _numbers_near(*texts: str) -> Iterator[int]:
    """Numbers whose writing is one slip away, of the same length or one digit more or less."""
    seen: set[int] = set()
    for text in texts:
        for i in range(len(text)):
            seen.update(int(text[:i] + digit + text[i + 1 :]) for digit in digits)
            shorter = text[:i] + text[i + 1 :]
            seen.add(int(shorter or "0"))
            seen.add(int(text[:i] + text[i + 1 : i + 2] + text[i] + text[i + 2 :]))
        if len(text) == 1:
            seen.update(int(text + digit) for digit in digits)
            seen.update(int(digit + text) for digit in digits)
    yield from sorted(seen - {0})

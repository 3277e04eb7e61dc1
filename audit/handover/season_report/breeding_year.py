"""Years in which broods are counted: calendar years, or, where birds breed over New Year, from gap to gap."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = ["BreedingYear", "breeding_year_of"]

_YEAR = 365
#: Days without a nestling in the hand around New Year that part two seasons; common practice.
_PART = 60


@dataclass(frozen=True, slots=True)
class BreedingYear:
    """When a year of broods begins: so many days after New Year, 0 for calendar years."""

    begins: int = 0

    def of(self, day: int) -> int:
        """Give the calendar year in which the year of a day begins; 0 for an unknown day, 0."""
        return dt.date.fromordinal(day - self.begins).year if day > self.begins else 0


def breeding_year_of(days: Iterable[int]) -> BreedingYear:
    """Find where the years of broods part: at New Year, unless young were in the hand around it.

    Parameters
    ----------
    days : iterable of int
        Proleptic Gregorian ordinals of days with young in the hand; 0 for unknown.

    Returns
    -------
    BreedingYear
        One that begins in the middle of the longest time without young in the hand, whatever the year, where
        less than two months around New Year are without them.

    Examples
    --------
    >>> days = (2026, 6, 9), (2025, 12, 20), (2026, 1, 6)
    >>> june, december, january = (dt.date(*day).toordinal() for day in days)
    >>> breeding_year_of([june]).of(june), breeding_year_of([december, january]).of(january)
    (2026, 2025)
    """
    passed = sorted({dt.date.fromordinal(day).timetuple().tm_yday for day in days if day})
    if not passed or passed[0] + _YEAR - passed[-1] >= _PART:
        return BreedingYear()
    length, start = max(((later - before, before) for before, later in pairwise(passed)), default=(0, 0))
    return BreedingYear(start + length // 2 if length >= _PART else 0)

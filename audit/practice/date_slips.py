"""Slips of a date."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from audit.practice.strokes import pick

if TYPE_CHECKING:
    from collections.abc import Callable

    from audit.practice.hand import Hand, Make, Typed

__all__ = ["date", "other_digit", "other_year", "same_week", "turned"]


def date(*, options: Callable[[dt.date], list[dt.date]]) -> Make:
    """Type another day, one of those that a slip makes of the one meant."""

    def make(hand: Hand, i: int, field: str) -> tuple[Typed, ...]:
        text = hand.sheet.text(i, field)
        days = [day.isoformat() for day in options(dt.date.fromisoformat(text))] if text else []
        return ((i, field, pick(days, hand.rng)),)

    return make


def turned(day: dt.date) -> list[dt.date]:
    """Exchange day and month."""
    return _days((day.year, day.day, day.month))


def other_year(day: dt.date) -> list[dt.date]:
    """Take another year."""
    return _days(*((day.year + step, day.month, day.day) for step in (-10, -1, 1, 10)))


def other_digit(day: dt.date) -> list[dt.date]:
    """Change one digit of day or month."""
    texts = (f"{day.day:02d}", f"{day.month:02d}")
    days, months = (
        [int(text[:i] + digit + text[i + 1 :]) for i in range(len(text)) for digit in "0123456789"]
        for text in texts
    )
    near = _days(*((day.year, day.month, n) for n in days), *((day.year, n, day.day) for n in months))
    return [other for other in near if other != day]


def same_week(day: dt.date) -> list[dt.date]:
    """Take another day of the same week."""
    monday = day - dt.timedelta(days=day.weekday())
    week = [monday + dt.timedelta(days=step) for step in range(len("MTWTFSS"))]
    return [other for other in week if other != day]


def _days(*parts: tuple[int, int, int]) -> list[dt.date]:
    found = []
    for year, month, day in parts:
        try:
            found.append(dt.date(year, month, day))
        except ValueError:
            continue
    return found

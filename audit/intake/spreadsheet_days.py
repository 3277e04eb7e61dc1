"""What a spreadsheet makes of dates: numbers of days, and days whose month it took for the day."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from audit.intake.answer import Answer
from audit.intake.date_text import calendar_day

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from audit.intake.date_column import DateColumn

__all__ = ["count_days", "find_turned"]

#: A leap year, so that 29 February is a day.
_LEAP = 2000


def count_days(column: DateColumn, epochs: Sequence[dt.date]) -> None:
    """Turn a spreadsheet's day numbers into days, by the date system nearer to the other dates.

    Parameters
    ----------
    column : DateColumn
        Changed in place.
    epochs : sequence of date
        Day 0 of each date system, the usual one first.
    """
    if not column.numbers:
        return
    known = column.known_days()

    def far(epoch: dt.date) -> float:
        return sum(abs(epoch.toordinal() + n - (known.at(i) or 0)) for i, n in column.numbers.items())

    epoch = min(epochs, key=far) if known else epochs[0]
    for i, number in column.numbers.items():
        column.days[i] = epoch + dt.timedelta(days=int(number))
    column.say_once(
        {i: f"{number:.10g}" for i, number in column.numbers.items()},
        "date_number",
        f"is a spreadsheet's day number, counted from {epoch.isoformat()}; it was read as {{day}}",
        list(column.numbers),
    )


def find_turned(column: DateColumn, real: Iterable[int], *, least: int, margin: int) -> None:
    """Find real dates whose day and month a spreadsheet exchanged.

    Text such as 25/05/2026 stays text under month-first settings while 04/05/2026 becomes 5 April.

    Parameters
    ----------
    column : DateColumn
        Changed in place.
    real : iterable of int
        Rows that the spreadsheet stored as dates.
    least : int
        So many dates must have stayed text.
    margin : int
        Days by which the season may reach beyond those.
    """
    left = [
        day
        for i, day in enumerate(column.days)
        if day and i in column.parts and (pair := column.parts[i].pair) and pair == (day.day, day.month)
    ]
    if not left or len(left) < least or any(_swapped(day) for day in left):
        return
    if any(parts.pair and _swappable(parts.pair) for parts in column.parts.values()):
        return
    # as numbers, since "until further notice" is often the last day that there is, 31.12.9999
    low = min(left).toordinal() - margin
    high = max(left).toordinal() + margin
    for i in real:
        day = column.days[i]
        turned = _swapped(day) if day else None
        if day is None or turned is None or low <= day.toordinal() <= high:
            continue
        if not low <= turned.toordinal() <= high:
            continue
        column.answers[i] = Answer(
            day,
            "date_turned",
            f"{day.isoformat()} is a real date among dates that stayed text since their day is above 12: "
            f"the spreadsheet took the day for the month, and {turned.isoformat()} was meant",
            turned.isoformat(),
        )


def _swapped(day: dt.date) -> dt.date | None:
    """Exchange day and month; None where that is no other date."""
    return calendar_day(day.year, day.day, day.month) if day.day != day.month else None


def _swappable(pair: tuple[int, int]) -> bool:
    return calendar_day(_LEAP, *pair) is not None and calendar_day(_LEAP, *reversed(pair)) is not None

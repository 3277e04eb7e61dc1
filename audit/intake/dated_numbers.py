"""Numbers that a spreadsheet took for dates: shown as a day, or typed with a point between day and month."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass

from audit.intake.answer import UNREADABLE, Answer, plainly, quoted
from audit.intake.words import fold

__all__ = ["DatedNumbers"]

_ISO_DAY = re.compile(r"(\d{4})-(\d\d)-(\d\d)(?: 00:00(?::00)?)?")
_NAMED_DAY = re.compile(r"(\d{1,2})[ .-]{0,2}([^\W\d_]+)\.?(?:[ .-]{0,2}\d{2,4})?")
_SOME_DAY = re.compile(r"\d{1,2}([-/.])\d{1,2}\1(?:\d{2}|\d{4})")


@dataclass(frozen=True, slots=True)
class DatedNumbers:
    """Says what number a date in a column of numbers was.

    Attributes
    ----------
    scale : float
        How many units one of the column's own units is.
    whole : bool
        Only whole numbers make sense.
    months : dict of str to int
        Month numbers by name.
    oldest_year : int
        A day before this year is a number with the format of a date.
    epoch : date
        Day 0 of a spreadsheet.
    """

    scale: float
    whole: bool
    months: dict[str, int]
    oldest_year: int
    epoch: dt.date

    def stored(self, value: object) -> Answer:
        """Answer for a date, time or duration that stands where a number should."""
        if not isinstance(value, dt.date):
            return Answer(
                None,
                UNREADABLE,
                f"{quoted(str(value))} is a time, but this column holds numbers; retype the cell",
            )
        day = value.date() if isinstance(value, dt.datetime) else value
        midnight = not isinstance(value, dt.datetime) or value.time() == dt.time()
        if midnight and day.year < self.oldest_year:
            # a cell formatted as a date shows 373 as a day in January 1901
            number = (day - self.epoch).days
            return Answer(
                None,
                UNREADABLE,
                f"{day.isoformat()} is the number {number} with the format of a date; set the cell to the "
                "format 'number'",
                plainly(number * self.scale),
            )
        by_points = midnight and not self.whole and day.day > 1
        return self._no_date(day.isoformat(), f"{day.day}.{day.month}" if by_points else "")

    def shown(self, text: str) -> Answer | None:
        """Answer for what is left of a number that was saved as a date is shown; None where it is none."""
        if match := _ISO_DAY.fullmatch(text):
            try:
                return self.stored(dt.date(*map(int, match.groups())))
            except ValueError:
                return None
        if match := _NAMED_DAY.fullmatch(text):
            day, month = int(match[1]), self.months.get(fold(match[2]))
            # 1 May may have been 1.5, or a month and a year
            meant = f"{day}.{month}" if day > 1 and not self.whole else ""
            if month is not None:
                return self._no_date(quoted(text), meant)
        return self._no_date(quoted(text), "") if _SOME_DAY.fullmatch(text) else None

    def _no_date(self, typed: str, meant: str) -> Answer:
        why = f"what a spreadsheet makes of {meant}" if meant else "a date"
        return Answer(
            None,
            UNREADABLE,
            f"{typed} is {why}, but this column holds numbers; "
            "set the cell to the format 'number' and retype it",
            plainly(float(f"{float(meant) * self.scale:.12g}")) if meant else "",
        )

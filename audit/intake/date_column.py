"""A column of dates while it is read: what is known of each row, and what is said once for many."""

from __future__ import annotations

import bisect
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from audit.intake.answer import UNREADABLE, Answer, quoted

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterable, Mapping

    from audit.intake.date_text import DateParts

__all__ = ["DateColumn", "Nearest", "impossible"]


@dataclass(slots=True)
class DateColumn:
    """What is known while a column of dates is read.

    Attributes
    ----------
    answers, days : list
        One for each row; None until there is one.
    parts : dict of int to DateParts
        Dates taken apart, whose year or order is still open, by row.
    numbers : dict of int to float
        Day numbers of a spreadsheet, by row.
    doubtful : set of int
        Rows whose date bears a mark of doubt.
    """

    answers: list[Answer | None]
    days: list[dt.date | None]
    parts: dict[int, DateParts] = field(default_factory=dict)
    numbers: dict[int, float] = field(default_factory=dict)
    doubtful: set[int] = field(default_factory=set)

    def known_days(self) -> Nearest:
        """Days that are known so far, as numbers, by the row nearest to them."""
        return Nearest((i, day.toordinal()) for i, day in enumerate(self.days) if day)

    def known_years(self) -> Nearest:
        """Years that are known so far, by the row nearest to them."""
        return Nearest(
            [(i, day.year) for i, day in enumerate(self.days) if day]
            + [(i, parts.year) for i, parts in self.parts.items() if parts.year is not None]
        )

    def say_once(self, typed: Mapping[int, str], kind: str, says: str, rows: list[int]) -> None:
        """Say at the first of some rows how all of them were read; `says` has a place for its ``{day}``."""
        if not rows:
            return
        day = self.days[rows[0]]
        if day is None:
            return
        remark = f"{quoted(typed[rows[0]])} {says.format(day=day.isoformat())}"
        if len(rows) > 1:
            others = len(rows) - 1
            remark += f"; so {'was' if others == 1 else 'were'} {others} more of this column"
        self.answers[rows[0]] = Answer(day, kind, remark, day.isoformat())


class Nearest:
    """The value known nearest to a row."""

    def __init__(self, known: Iterable[tuple[int, int]]) -> None:
        pairs = sorted(known)
        self._rows = [row for row, _ in pairs]
        self._values = [value for _, value in pairs]

    def __bool__(self) -> bool:
        return bool(self._rows)

    def values(self) -> set[int]:
        """All values that are known."""
        return set(self._values)

    def at(self, row: int) -> int | None:
        """Look the value up that is known nearest to a row, the earlier one of two; None where none is."""
        if not self._rows:
            return None
        after = bisect.bisect_left(self._rows, row)
        around = [place for place in (after - 1, after) if 0 <= place < len(self._rows)]
        return self._values[min(around, key=lambda place: abs(self._rows[place] - row))]


def impossible(text: str) -> Answer:
    """Say that a text is no day of the calendar."""
    return Answer(
        None, UNREADABLE, f"{quoted(text)} is no day of the calendar; look the date up in the notebook"
    )

"""What a date may be expected to say by the cells around it."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from audit.explain.unread_chances import day_text, one_of, smoothed
from audit.explain.unread_sheet import Belief
from audit.models.time_of_day import DAY

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.explain.unread_witnesses import Witnesses

    Ints = NDArray[np.int64]

__all__ = ["DayBeliefs"]


class DayBeliefs:
    """Beliefs about dates."""

    def __init__(self, seen: Witnesses) -> None:
        self.seen = seen

    @cached_property
    def _days(self) -> Ints:
        """Days that a date of the season may have."""
        known = np.concatenate(
            [
                sheet.days[np.isfinite(sheet.days)]
                for name in ("handlings", "visits")
                if (sheet := self.seen.tables.sheet(name)) is not None
            ]
            or [np.empty(0)]
        )
        if not len(known):
            return np.empty(0, dtype=np.int64)
        middle, reach, margin = (
            np.median(known),
            self.seen.tables.setting("season_days"),
            self.seen.tables.setting("margin_days"),
        )
        inside = known[np.abs(known - middle) <= reach]
        if not len(inside):
            # two seasons far apart have no middle
            return np.empty(0, dtype=np.int64)
        return np.arange(inside.min() - margin, inside.max() + margin + 1).astype(np.int64)

    def date(self, row: int) -> Belief | None:
        """Weigh a date by the rows around, the table of visits and the reader."""
        days, sheet = self._days, self.seen.sheet
        if not len(days):
            return None
        log = np.zeros(len(days))
        box = sheet.boxes[row]
        above, below = sheet.beside(row, np.isfinite(sheet.days))
        for other, sign in ((above, 1), (below, -1)):
            if other is None:
                continue
            same = box is not None and sheet.boxes[other] == box
            steps = ((days - sheet.days[other]) * sign).astype(np.int64)
            log += sheet.day_steps[int(same)].log_chance(steps)
            if np.isfinite(sheet.minutes[row]) and np.isfinite(sheet.minutes[other]):
                later = np.array([(sheet.minutes[row] - sheet.minutes[other]) * sign], dtype=np.int64)
                today = sheet.time_steps[int(same)].log_chance(later)[0]
                log += np.where(days == sheet.days[other], today, -np.log(DAY))
        visited = self.seen.visited_on(box)
        log += one_of(days, visited, self.seen.kept_visits)
        read = self.seen.read_on(row)
        if read:
            log += one_of(days, read, self.seen.kept_reads)
        said = [sheet.days[other] if other is not None else np.nan for other in (above, below)]

        def because(k: int) -> str:
            day = days[k]
            if said[0] == said[1] == day:
                return f"the rows above and below say {day_text(day)}"
            for other, side in ((above, "above"), (below, "below")):
                if other is not None and sheet.days[other] == day:
                    same = box is not None and sheet.boxes[other] == box
                    of = f", of the same box {box}," if same else ""
                    return f"the row {side}{of} says {day_text(day)}"
            if day in visited:
                return f"box {box} was visited on {day_text(day)}"
            if day in read:
                return f"its tag was read on {day_text(day)}"
            if all(np.isfinite(said)) and said[0] <= day <= said[1]:
                return f"the row stands between {day_text(said[0])} and {day_text(said[1])}"
            return ""

        return Belief([day_text(day) for day in days], log, because, "a date")

    def other_date(self, field: str, row: int) -> Belief | None:
        """Weigh a date of another kind by the others of its column, and those of the same visit."""
        column = self.seen.sheet.days_of(field)
        known = column[np.isfinite(column)]
        if not len(known):
            return None
        margin = self.seen.tables.setting("margin_days")
        days = np.arange(known.min() - margin, known.max() + margin + 1).astype(np.int64)
        if len(days) > 2 * self.seen.tables.setting("season_days"):
            return None
        mates = [float(column[i]) for i in self.seen.sheet.mates(row) if np.isfinite(column[i])]
        log = smoothed(days, known, margin) + smoothed(
            days, np.array(mates), self.seen.tables.setting("hatch_days")
        )
        return Belief([day_text(day) for day in days], log, lambda _: "", "a date")

"""What a time of day may be expected to say by the cells around it."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from audit.explain.unread_chances import smoothed
from audit.explain.unread_sheet import Belief
from audit.models.steps import Steps
from audit.models.time_of_day import DAY, clock

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.explain.unread_witnesses import Witnesses

__all__ = ["TimeBeliefs"]


class TimeBeliefs:
    """Beliefs about times of day."""

    def __init__(self, seen: Witnesses) -> None:
        self.seen = seen

    def time(self, row: int) -> Belief | None:
        """Weigh a time by the rows of the same day, the table of visits and the reader."""
        sheet = self.seen.sheet
        known = sheet.minutes[np.isfinite(sheet.minutes)]
        if not len(known):
            return None
        grid = np.arange(DAY)
        log = smoothed(grid, known, self.seen.tables.setting("day_minutes"))
        today = np.isfinite(sheet.minutes) & (sheet.days == sheet.days[row])
        above, below = sheet.beside(row, today)
        for other, sign in ((above, 1), (below, -1)):
            if other is not None:
                same = sheet.boxes[row] is not None and sheet.boxes[other] == sheet.boxes[row]
                steps = ((grid - sheet.minutes[other]) * sign).astype(np.int64)
                log += sheet.time_steps[int(same)].log_chance(steps)
        visit = self._visit_minutes.get((float(sheet.days[row]), sheet.boxes[row]))
        if visit is not None:
            log += self._after_visit.log_chance((grid - visit).astype(np.int64))
        reads = [m for day, m in self.seen.reads.get(self.seen.tags[row], ()) if day == sheet.days[row]]
        if reads:
            log += self._after_read.log_chance((grid - reads[0]).astype(np.int64))
        bounds = [None if other is None else float(sheet.minutes[other]) for other in (above, below)]

        def because(k: int) -> str:
            low, high = bounds
            if low is not None and high is not None and low <= k <= high:
                if low == high:
                    return f"the rows above and below say {clock(low)}"
                return f"the row stands between {clock(low)} and {clock(high)}"
            if reads and abs(k - reads[0]) <= self.seen.tables.setting("reader_minutes"):
                return f"its tag was read at {clock(reads[0])}"
            if low is not None and low <= k:
                return f"the row above says {clock(low)}"
            if high is not None and k <= high:
                return f"the row below says {clock(high)}"
            if visit is not None:
                return f"the visit began at {clock(visit)}"
            return ""

        return Belief([clock(float(k)) for k in grid], log, because, "a time of day")

    @cached_property
    def _visit_minutes(self) -> dict[tuple[float, object], float]:
        visits = self.seen.tables.sheet("visits")
        if visits is None or visits is self.seen.sheet:
            return {}
        return {
            key: float(visits.minutes[rows[0]])
            for key, rows in visits.visits.items()
            if len(rows) == 1 and np.isfinite(visits.minutes[rows[0]])
        }

    @cached_property
    def _after_visit(self) -> Steps:
        sheet = self.seen.sheet
        seen = [
            sheet.minutes[i] - begun
            for key, begun in self._visit_minutes.items()
            for i in sheet.visits.get(key, ())
            if np.isfinite(sheet.minutes[i])
        ]
        return self._minutes_apart(seen)

    @cached_property
    def _after_read(self) -> Steps:
        sheet = self.seen.sheet
        seen = [
            sheet.minutes[i] - reads[0]
            for i, tag in enumerate(self.seen.tags)
            if tag in self.seen.reads
            and np.isfinite(sheet.minutes[i])
            and (reads := [m for day, m in self.seen.reads[tag] if day == sheet.days[i]])
        ]
        return self._minutes_apart(seen)

    def _minutes_apart(self, seen: Sequence[float]) -> Steps:
        width = int(self.seen.tables.setting("reader_minutes"))
        return Steps(np.array(seen, dtype=np.int64), width, 2 * DAY, self.seen.tables.setting("exact"))

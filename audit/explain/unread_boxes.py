"""What a box may be expected to be by the cells around it."""

from __future__ import annotations

from collections import Counter
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from audit.explain.unread_chances import day_text, share_of
from audit.explain.unread_sheet import Belief

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.explain.unread_witnesses import Witnesses

    Floats = NDArray[np.float64]

__all__ = ["BoxBeliefs"]


class BoxBeliefs:
    """Beliefs about boxes."""

    def __init__(self, seen: Witnesses) -> None:
        self.seen = seen

    @cached_property
    def _labels(self) -> list[str]:
        found: dict[str, None] = {}
        for name in ("boxes", "visits", "handlings"):
            sheet = self.seen.tables.sheet(name)
            if sheet is not None:
                found.update(dict.fromkeys(box for box in sheet.boxes if box is not None))
        return list(found)

    def box(self, row: int) -> Belief | None:
        """Weigh a box by the rows around, the table of visits and the bird's own rows."""
        labels, sheet = self._labels, self.seen.sheet
        if not labels:
            return None
        names = np.array(labels, dtype=object)
        log = np.zeros(len(labels))
        day = sheet.days[row]
        known = np.array([box is not None for box in sheet.boxes]) & np.isfinite(sheet.days)
        above, below = sheet.beside(row, known)
        for other, sign in ((above, 1), (below, -1)):
            if other is not None:
                log += self._box_beside(names, row, other, sign)
        today = self._boxes_of_day.get(float(day), set())
        if today:
            hit = np.array([name in today for name in names], dtype=bool)
            share = self.seen.kept_visits
            log += np.where(hit, np.log(share / len(today)), np.log((1 - share) / max((~hit).sum(), 1)))
        own = Counter(sheet.boxes[i] for i in sheet.same_bird(row) if sheet.boxes[i] is not None)
        if own:
            stays = sheet.alike("box", "bird")
            near = np.array([own[name] / own.total() for name in labels])
            log += np.log(stays * near + (1 - stays) / len(labels))
        said = [
            None if other is None or sheet.days[other] != day else sheet.boxes[other]
            for other in (above, below)
        ]

        def because(k: int) -> str:
            label = labels[k]
            when = f" of {day_text(day)}" if np.isfinite(day) else ""
            if said[0] == said[1] == label:
                return f"the rows above and below say {label}"
            if label in said:
                return f"the row {'above' if said[0] == label else 'below'}{when} says {label}"
            if own.get(label):
                return f"the bird was in box {label} at its other visit"
            if label in today:
                return f"box {label} was visited on {day_text(day)}"
            return ""

        return Belief(labels, log, because, "a box")

    def _box_beside(self, names: NDArray[np.object_], row: int, other: int, sign: int) -> Floats:
        """Log probability of each box beside a row of a known one, by what else both rows say."""
        sheet = self.seen.sheet
        same_day = sheet.days[row] == sheet.days[other]
        stays = self._box_stays[int(same_day)]
        log_same, log_other = np.log(stays), np.log((1 - stays) / max(len(names) - 1, 1))
        if same_day and np.isfinite(sheet.minutes[row]) and np.isfinite(sheet.minutes[other]):
            step = np.array([(sheet.minutes[row] - sheet.minutes[other]) * sign], dtype=np.int64)
            log_same += sheet.time_steps[1].log_chance(step)[0]
            log_other += sheet.time_steps[0].log_chance(step)[0]
        sizes = sheet.numbers("brood_size")
        if np.isfinite(sizes[row]) and np.isfinite(sizes[other]):
            equal = sizes[row] == sizes[other]
            same, apart = self._size_stays
            log_same += np.log(same if equal else 1 - same)
            log_other += np.log(apart if equal else 1 - apart)
        return np.where(names == sheet.boxes[other], float(log_same), float(log_other))

    @cached_property
    def _box_stays(self) -> tuple[float, float]:
        """Share of rows in the box of the row before: on another day, on the same day."""
        sheet = self.seen.sheet
        known = np.array([box is not None for box in sheet.boxes]) & np.isfinite(sheet.days)
        one, other = sheet.pairs(known)
        today = sheet.days[one] == sheet.days[other]
        same = np.array([sheet.boxes[i] == sheet.boxes[j] for i, j in zip(one, other, strict=True)], bool)
        return share_of(same[~today]), share_of(same[today])

    @cached_property
    def _size_stays(self) -> tuple[float, float]:
        """Share of rows with the brood size of the row before: of the same box and day, of another."""
        sheet = self.seen.sheet
        sizes = sheet.numbers("brood_size")
        known = (
            np.array([box is not None for box in sheet.boxes]) & np.isfinite(sheet.days) & np.isfinite(sizes)
        )
        one, other = sheet.pairs(known)
        together = (sheet.days[one] == sheet.days[other]) & np.array(
            [sheet.boxes[i] == sheet.boxes[j] for i, j in zip(one, other, strict=True)], bool
        )
        equal = sizes[one] == sizes[other]
        return share_of(equal[together]), share_of(equal[~together])

    @cached_property
    def _boxes_of_day(self) -> dict[float, set[object]]:
        found: dict[float, set[object]] = {}
        for box, days in self.seen.visit_days.items():
            for day in days:
                found.setdefault(day, set()).add(box)
        return found

"""How many young a cell may be expected to count."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from audit.explain.unread_chances import day_text, share_of
from audit.explain.unread_sheet import Belief

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.explain.unread_witnesses import Witnesses

    Floats = NDArray[np.float64]

__all__ = ["CountBeliefs"]


class CountBeliefs:
    """Beliefs about counts of young."""

    def __init__(self, seen: Witnesses) -> None:
        self.seen = seen

    def brood_size(self, row: int) -> Belief | None:
        """Weigh a brood size by the siblings and the count of the visit."""
        sheet = self.seen.sheet
        sizes = sheet.numbers("brood_size")
        mates = [float(sizes[i]) for i in sheet.mates(row) if np.isfinite(sizes[i])]
        key = (float(sheet.days[row]), sheet.boxes[row])
        log = self._count(sizes, mates, sheet.alike("brood_size", "visit"))
        alive = self._alive.get(key)
        if alive is not None:
            log += self._told(len(log), alive, self._kept_alive)
        handled = len(self._young_of(key))
        # more young than were counted in the box are rarely in the hand
        log += np.where(
            np.arange(len(log)) < handled, np.log(self.seen.tables.setting("fewer_than_handled")), 0.0
        )
        return Belief(
            [str(k) for k in range(len(log))],
            log,
            lambda k: self._why_size(key, k, mates, alive, handled),
            "a brood size",
        )

    def _why_size(
        self, key: tuple[float, object], k: int, mates: list[float], alive: float | None, handled: int
    ) -> str:
        same = mates.count(k)
        if same:
            birds = "1 other bird" if same == 1 else f"{same} other birds"
            where = f"box {key[1]} on {day_text(key[0])}"
            counted = f", and {k} young were counted" if alive == k else ""
            return f"{birds} of {where} {'has' if same == 1 else 'have'} brood size {k}{counted}"
        if alive == k:
            return f"{k} young were counted in box {key[1]} on {day_text(key[0])}"
        if handled == k:
            return f"{k} young of box {key[1]} were handled on {day_text(key[0])}"
        return ""

    def alive(self, row: int) -> Belief | None:
        """Weigh the count of a visit by the brood sizes of the birds handled."""
        birds = self.seen.tables.sheet("handlings")
        if birds is None:
            return None
        counts, sizes = self.seen.sheet.numbers("alive"), birds.numbers("brood_size")
        key = (float(self.seen.sheet.days[row]), self.seen.sheet.boxes[row])
        mates = [float(sizes[i]) for i in birds.visits.get(key, ()) if np.isfinite(sizes[i])]
        log = self._count(counts, mates, 1 - 1 / (2 + len(mates)))

        def because(k: int) -> str:
            same = mates.count(k)
            return f"{same} birds of box {key[1]} on {day_text(key[0])} have brood size {k}" if same else ""

        return Belief([str(k) for k in range(len(log))], log, because, "a count")

    def _count(self, column: Floats, mates: list[float], alike: float) -> Floats:
        # a count beyond every brood is a slip, and would ask for a table as long
        beyond = self.seen.tables.setting("brood_below")
        counts = (column >= 0) & (column < beyond)
        known = column[counts].astype(np.int64)
        mates = [mate for mate in mates if 0 <= mate < beyond]
        top = int(max([*known, *mates], default=1)) * 2 + 1
        usual = (np.bincount(known, minlength=top)[:top] + 1 / 2) / (len(known) + top / 2)
        if not mates:
            return np.asarray(np.log(usual), dtype=np.float64)
        near = np.array([mates.count(k) / len(mates) for k in range(top)])
        found: Floats = np.log(alike * near + (1 - alike) * usual)
        return found

    @staticmethod
    def _told(n: int, value: float, share: float) -> Floats:
        told, untold = float(np.log(share)), float(np.log((1 - share) / max(n - 1, 1)))
        return np.where(np.arange(n) == value, told, untold)

    @cached_property
    def _alive(self) -> dict[tuple[float, object], float]:
        visits = self.seen.tables.sheet("visits")
        if visits is None:
            return {}
        counts = visits.numbers("alive")
        return {
            key: float(counts[rows[0]])
            for key, rows in visits.visits.items()
            if len(rows) == 1 and np.isfinite(counts[rows[0]])
        }

    @cached_property
    def _kept_alive(self) -> float:
        """Share of brood sizes that are the count of the visit."""
        sizes = self.seen.sheet.numbers("brood_size")
        said = [
            sizes[i] == alive
            for key, alive in self._alive.items()
            for i in self.seen.sheet.visits.get(key, ())
            if np.isfinite(sizes[i])
        ]
        return share_of(np.array(said, dtype=bool))

    def _young_of(self, key: tuple[float, object]) -> set[object]:
        ages, rings = self.seen.sheet.words("age"), self.seen.sheet.words("ring")
        codes = set(self.seen.tables.declared.rules["declared"].limits["pullus_codes"].value)
        return {rings[i] or i for i in self.seen.sheet.visits.get(key, ()) if ages[i] in codes}

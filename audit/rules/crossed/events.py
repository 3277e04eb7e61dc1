"""Whether what was done with a bird fits where its ring stands on the string."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

from audit.models.ring_number import bare, split_ring

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.rules.crossed.visit_rows import VisitRow
    from audit.rules.ring_rows import Key, Ringings

__all__ = ["Events"]


@dataclass(frozen=True)
class Events:
    """Events beside the strings of rings."""

    rings: Ringings
    _beside: dict[str, tuple[tuple[Key, int], ...]] = field(default_factory=dict, compare=False)

    def is_odd(self, row: VisitRow) -> bool:
        """Whether a ringed bird has no ring of the string in use, or one seen again has a new one."""
        event = self.rings.event[row.place]
        return bool(event and row.ring) and (event == "ringed") != self.is_new(row.place, row.ring)

    def is_new(self, place: int, ring: str) -> bool:
        """Whether a ring stands on the string beside one that was put on that day, and on no bird before."""
        day = int(self.rings.day[place])
        return self.first_seen.get(ring, day) >= day and any(
            day in self.days_used.get(near, ()) for near in self.neighbours(ring)
        )

    @cached_property
    def first_seen(self) -> Mapping[str, int]:
        """First day of each ring."""
        return {
            ring: min(int(self.rings.day[i]) for i in rows) for ring, rows in self.rings.rows_of_ring.items()
        }

    @cached_property
    def days_used(self) -> Mapping[tuple[Key, int], frozenset[int]]:
        """Days on which each number was put on a bird."""
        return {at: frozenset(int(self.rings.day[i]) for i in rows) for at, rows in self.rings.used.items()}

    def neighbours(self, ring: str) -> tuple[tuple[Key, int], ...]:
        """Numbers beside a ring on its string."""
        found = self._beside.get(ring)
        if found is None:
            stem, digits = split_ring(ring)
            key, number = (bare(stem), len(digits)), int(digits or 0)
            reach = self.rings.reach
            found = tuple((key, near) for near in range(number - reach, number + reach + 1) if near != number)
            self._beside[ring] = found
        return found

    def is_of_a_string(self, ring: str) -> bool:
        """Whether a ring stands beside another on its string: one that came from nowhere was not meant."""
        return any(near in self.rings.used for near in self.neighbours(ring))

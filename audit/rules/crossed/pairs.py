"""Which ring bears which tag in which visits."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from audit.rules.crossed.visit_rows import VisitRow

__all__ = ["Pairs", "pairs_of"]


@dataclass(frozen=True, slots=True)
class Pairs:
    """Visits in which each ring has each tag.

    Attributes
    ----------
    visits : mapping of int to tuple of VisitRow
    by_ring, by_tag : mapping of str to mapping of str to set of int
        Visits, by ring and tag, and by tag and ring.
    """

    visits: Mapping[int, tuple[VisitRow, ...]]
    by_ring: Mapping[str, Mapping[str, set[int]]]
    by_tag: Mapping[str, Mapping[str, set[int]]]

    def is_odd(self, row: VisitRow) -> bool:
        """Whether ring and tag of a row are at another visit on another bird."""
        return bool(row.ring and row.tag) and (
            len(self.by_ring[row.ring]) > 1 or len(self.by_tag[row.tag]) > 1
        )

    def group(self, visit: int) -> set[int]:
        """Visits that contradict each other."""
        group, waiting = {visit}, [visit]
        while waiting:
            for row in self.visits[waiting.pop()]:
                if not self.is_odd(row):
                    continue
                for where in (*self.by_ring[row.ring].values(), *self.by_tag[row.tag].values()):
                    fresh = where - group
                    group |= fresh
                    waiting += fresh
        return group

    def outside(self, group: Sequence[int]) -> tuple[dict[str, set[str]], dict[str, set[str]]]:
        """Tags of each ring and rings of each tag at visits outside a group."""
        inside = set(group)
        rows = [row for visit in group for row in self.visits[visit]]
        return (
            {
                r.ring: {tag for tag, where in self.by_ring[r.ring].items() if where - inside}
                for r in rows
                if r.ring
            },
            {
                r.tag: {ring for ring, where in self.by_tag[r.tag].items() if where - inside}
                for r in rows
                if r.tag
            },
        )


def pairs_of(visits: Mapping[int, tuple[VisitRow, ...]]) -> Pairs:
    """Lay out which ring has which tag where."""
    by_ring: defaultdict[str, dict[str, set[int]]] = defaultdict(dict)
    by_tag: defaultdict[str, dict[str, set[int]]] = defaultdict(dict)
    for visit, rows in visits.items():
        for row in rows:
            if row.ring and row.tag:
                by_ring[row.ring].setdefault(row.tag, set()).add(visit)
                by_tag[row.tag].setdefault(row.ring, set()).add(visit)
    return Pairs(visits, by_ring, by_tag)

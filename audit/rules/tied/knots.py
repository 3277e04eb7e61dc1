"""Rows that hang together by a ring or a tag, and changes that would untie them."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from audit.models.components import components

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.rules.tag_book import TagRow

__all__ = [
    "UNKNOWN",
    "Account",
    "Change",
    "Field",
    "Knot",
    "Renewal",
    "knots_of",
    "renewals_in",
    "ringed_twice",
]

Field = Literal["ring", "tag"]

#: A value that stands nowhere in the season: what was meant is not known.
UNKNOWN = ""


@dataclass(frozen=True, slots=True)
class Change:
    """One cell of a knot that was meant otherwise; `weight` is the chance of the slip."""

    row: int
    field: Field
    meant: str
    weight: float = 0.0


@dataclass(frozen=True, slots=True)
class Renewal:
    """A row at which a bird has a new tag, or a new ring, and the row at which it last had the old one."""

    row: int
    field: Field
    before: int


@dataclass(frozen=True, slots=True)
class Account:
    """One way in which a knot can have come about, and how likely it is beside the others."""

    changes: tuple[Change, ...]
    weight: float
    renewals: tuple[Renewal, ...] = ()


@dataclass(frozen=True, slots=True)
class Knot:
    """Rows that hang together because they share a tag or a ring, in time order."""

    rows: tuple[TagRow, ...]

    def meant(self, changes: Sequence[Change]) -> list[tuple[str, str]]:
        """Ring and tag of every row after the changes; unknown ones are told apart by the row."""
        state = [(row.ring, row.key) for row in self.rows]
        for change in changes:
            ring, key = state[change.row]
            value = change.meant or f"?{change.row}"
            state[change.row] = (value, key) if change.field == "ring" else (ring, value)
        return state

    def visit(self, i: int) -> tuple[str, str]:
        """Day and box of a row; a row without a day is a visit of its own."""
        row = self.rows[i]
        return row.visit if row.day else (row.label, "")


def knots_of(rows: Sequence[TagRow]) -> list[Knot]:
    """Tie rows together that share a tag or a ring; keep those in which not one ring has one tag.

    References
    ----------
    Connected components of the graph whose nodes are rings and tags and whose edges are handlings: see
    `audit.models.components`.
    """
    if not rows:
        return []
    rings = {ring: n for n, ring in enumerate(dict.fromkeys(row.ring for row in rows))}
    keys = {key: n + len(rings) for n, key in enumerate(dict.fromkeys(row.key for row in rows))}
    of_ring = np.array([rings[row.ring] for row in rows])
    of_key = np.array([keys[row.key] for row in rows])
    part = components(len(rings) + len(keys), of_ring, of_key)
    # one ring and one tag are two nodes
    tied = np.bincount(part, minlength=1) > 2  # noqa: PLR2004 - a ring and a tag
    found: dict[int, list[TagRow]] = {}
    for row, where in zip(rows, part[of_ring].tolist(), strict=True):
        if tied[where]:
            found.setdefault(where, []).append(row)
    return [
        Knot(tuple(sorted(together, key=lambda row: (row.day, row.place)))) for together in found.values()
    ]


def ringed_twice(knot: Knot, state: Sequence[tuple[str, str]]) -> int:
    """How often a bird is said to be ringed that already was at another visit."""
    ringed: dict[str, set[tuple[str, str]]] = defaultdict(set)
    for i, (ring, _) in enumerate(state):
        if knot.rows[i].event == "ringed":
            ringed[ring].add(knot.visit(i))
    return sum(len(visits) - 1 for visits in ringed.values())


def renewals_in(
    knot: Knot, state: Sequence[tuple[str, str]], changed: set[int]
) -> tuple[Renewal, ...] | None:
    """Rows at which a bird has a new tag or ring; None where the rows are no history of whole birds.

    A tag goes over to another ring only once, with the old one gone, and never both at a time.
    """
    at_visit: dict[tuple[tuple[str, str], str], int] = {}
    last_of_key: dict[str, int] = {}
    left: set[str] = set()
    keys_of: dict[str, list[str]] = {}
    last_of_ring: dict[str, int] = {}
    found = []
    for i, (ring, key) in enumerate(state):
        twin = at_visit.setdefault((knot.visit(i), ring), i)
        if twin != i and (state[twin][1] != key or changed & {i, twin}):
            return None
        before = last_of_key.get(key)
        if ring in left:
            return None
        if before is not None and state[before][0] != ring:
            # the old ring is gone for good, and the new one was on no bird
            old, day = state[before][0], knot.rows[i].day
            if ring in keys_of or not day or knot.rows[before].day >= day or keys_of[old][-1] != key:
                return None
            if changed & {i, before} or old.startswith("?") or ring.startswith("?"):
                return None
            left.add(old)
            found.append(Renewal(i, "ring", before))
            keys_of[ring] = [key]
        keys = keys_of.setdefault(ring, [key])
        if keys[-1] != key:
            if key in keys:
                return None
            keys.append(key)
            found.append(Renewal(i, "tag", last_of_ring[ring]))
        last_of_key[key] = last_of_ring[ring] = i
    return tuple(found)

"""Orders that can be seen in the rows of a visit, and how far the team keeps to them."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from audit.models.ring_number import bare

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from audit.rules.case import Case
    from audit.rules.crossed.visit_rows import VisitRow
    from audit.rules.ring_rows import Ringings
    from audit.rules.tag_book import TagBook

__all__ = ["ORDERS", "Order", "Orders", "log_other_orders"]

#: New rings along their string, rings seen again along theirs, tags as the reader stored them.
ORDERS = ("first", "again", "read")


@dataclass(frozen=True, slots=True)
class Order:
    """Whether the rows of a visit follow an order, how many they are, and whether one crossing mends it."""

    holds: bool
    n: int
    near: bool

    @property
    def weight(self) -> float:
        """How far it tells of the team's habit: a crossing is no habit, but chance may look like one."""
        if self.holds or not self.near:
            return 1.0
        # all pairs, and two slides
        ways = math.comb(self.n, 2) + 2
        return min(ways / (math.factorial(self.n) - 1), 1.0)


@dataclass(frozen=True)
class Orders:
    """The orders of all visits.

    Attributes
    ----------
    visits : mapping of int to tuple of VisitRow
    """

    case: Case
    rings: Ringings
    book: TagBook | None
    visits: Mapping[int, tuple[VisitRow, ...]]

    def limit(self, name: str) -> float:
        """Return a limit: they stand with the rule on tags, whichever rule asks."""
        return float(self.case.declared.rules["tag_twice"].limits[name].value)

    def of_rows(self, visit: int, rows: Sequence[VisitRow]) -> dict[str, Order]:
        """Look at each order that can be seen in a visit."""
        found: dict[str, Order] = {}
        for name in ("first", "again"):
            runs: dict[object, list[int]] = defaultdict(list)
            for row in rows:
                known = self.serial.get(row.ring)
                if known and self._first[row.place] == (name == "first"):
                    runs[known[0]].append(known[1])
            whole = [
                part for run in runs.values() for part in _clusters(run, self.rings.reach) if len(part) > 1
            ]
            if whole:
                # of several strings the longest run counts
                found[name] = min((_order_of(run) for run in whole), key=lambda one: (one.holds, -one.n))
        if self.book is not None and self.book.read_place:
            day = self.day_of(visit)
            places = [
                place
                for row in rows
                if row.tag and (place := self.book.read_place.get((day, row.tag))) is not None
            ]
            if len(places) > 1:
                found["read"] = _order_of(places)
        return found

    @cached_property
    def serial(self) -> Mapping[str, tuple[object, int]]:
        """Series and number of each ring."""
        running = self.rings.running
        return {
            bare(str(self.rings.ring[i])): (self.rings.key[i], int(self.rings.serial[i]))
            for i in range(len(self.rings.labels))
            if self.rings.ring[i] and self.rings.serial[i] >= 0 and self.rings.key[i] in running
            # a ring out of line has a slip of its own
            if self.rings.at_home[i] or not self.rings.first[i]
        }

    def day_of(self, visit: int) -> str:
        """Day of a visit as ISO 8601."""
        return self._days[self.visits[visit][0].place]

    @cached_property
    def _days(self) -> list[str]:
        """Days in sheet order as ISO 8601."""
        found: list[str] = np.datetime_as_string(self.rings.day.astype("datetime64[D]")).tolist()
        return found

    @cached_property
    def _first(self) -> list[bool]:
        """First ringings in sheet order."""
        found: list[bool] = self.rings.first.tolist()
        return found

    @cached_property
    def seen(self) -> Mapping[int, Mapping[str, Order]]:
        """Orders as of `of_rows`, by visit."""
        return {visit: self.of_rows(visit, rows) for visit, rows in self.visits.items() if len(rows) > 1}

    @cached_property
    def habits(self) -> Mapping[str, tuple[float, float]]:
        """In how many visits each order holds, of how many."""
        found = {}
        for name in ORDERS:
            seen = [orders[name] for orders in self.seen.values() if name in orders]
            found[name] = (float(sum(one.holds for one in seen)), sum(one.weight for one in seen))
        return found

    def in_order(self, name: str, visits: Iterable[int]) -> float:
        """Share of visits in which an order holds, but for some."""
        held, of = self.habits[name]
        own = [self.seen[v][name] for v in visits if name in self.seen.get(v, {})]
        share, weight = self.limit(f"in_order_{name}"), self.limit("in_order_weight")
        held -= sum(one.holds for one in own)
        of -= sum(one.weight for one in own)
        return float((held + share * weight) / (of + weight))

    def log_chance(self, orders: Mapping[str, Order], share: Mapping[str, float]) -> float:
        """Weigh the orders of a visit by the shares of visits that keep them: log of the chance."""
        return sum(
            math.log(share[name]) if one.holds else math.log(1 - share[name]) - log_other_orders(one.n)
            for name, one in orders.items()
        )


def _clusters(run: Sequence[int], reach: int) -> list[list[int]]:
    """Part numbers where their string has a gap, as before an old ring; each part in the order given."""
    ordered = sorted(run)
    starts = [ordered[0]] + [after for number, after in pairwise(ordered) if after - number > reach]
    parts: list[list[int]] = [[] for _ in starts]
    for number in run:
        parts[bisect_right(starts, number) - 1].append(number)
    return parts


def _order_of(run: Sequence[int]) -> Order:
    ordered = sorted(run)
    moved = [k for k, number in enumerate(run) if number != ordered[k]]
    part = list(run[moved[0] : moved[-1] + 1]) if moved else []
    turned = sorted(part)
    pair = len(moved) == 2  # noqa: PLR2004 - two that changed places
    near = pair or part in ([*turned[1:], *turned[:1]], [*turned[-1:], *turned[:-1]])
    return Order(not moved, len(run), near)


def log_other_orders(n: int) -> float:
    """Log of the number of orders of n things but for one."""
    return math.log(math.factorial(n) - 1)

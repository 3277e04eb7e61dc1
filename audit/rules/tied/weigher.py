"""Every way in which a knot can have come about, and how likely each is."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

from audit.rules.marks import numbers_like
from audit.rules.rings_again import is_new_of_string, said_ringed_again, taken_off
from audit.rules.tied.fitted_together import FittedTogether
from audit.rules.tied.knots import Account, renewals_in, ringed_twice
from audit.rules.tied.sheet_signs import SheetSigns
from audit.rules.tied.slips import Slips

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.rules.case import Case
    from audit.rules.ring_rows import Ringings
    from audit.rules.tag_book import TagBook, TagRow
    from audit.rules.tied.knots import Change, Knot, Renewal

__all__ = ["Weigher", "weigher_of"]


@dataclass(frozen=True, slots=True)
class Weigher:
    """Weighs the ways in which a knot can have come about.

    Attributes
    ----------
    case, rings, book
        What the season says.
    signs : SheetSigns
    fitted : FittedTogether
    slips : Slips
    """

    case: Case
    rings: Ringings
    book: TagBook
    signs: SheetSigns
    fitted: FittedTogether
    slips: Slips

    def accounts(self, knot: Knot) -> list[Account]:
        """List all ways with their weights: nothing wrong, one slip, and two where one is not enough."""
        if len(knot.rows) > self.case.limit("rows_most"):
            return []
        accounts = [self._weigh(knot, (), 1.0)]
        singles = [
            change
            for i in range(len(knot.rows))
            for change in (*self.slips.tags(knot, i), *self.slips.rings(knot, i))
            if change.weight
        ]
        accounts += [self._weigh(knot, (change,), change.weight) for change in singles]
        accounts = [account for account in accounts if account.weight]
        if not accounts:
            accounts = [
                self._weigh(knot, (one, two), one.weight * two.weight)
                for one, two in combinations(singles, 2)
                if (one.row, one.field) != (two.row, two.field)
            ]
        return [account for account in accounts if account.weight]

    def _weigh(self, knot: Knot, changes: tuple[Change, ...], weight: float) -> Account:
        """Give an account its weight: 0 where it leaves the knot tied."""
        state = knot.meant(changes)
        renewals = renewals_in(knot, state, {change.row for change in changes})
        if renewals is None:
            return Account(changes, 0.0)
        for renewal in renewals:
            weight *= self._chance_of(knot, state, renewal)
        if weight:
            given = {state[renewal.row][0] for renewal in renewals if renewal.field == "ring"}
            weight *= self._evidence(knot, state, given)
        return Account(changes, weight, renewals)

    def _chance_of(self, knot: Knot, state: Sequence[tuple[str, str]], renewal: Renewal) -> float:
        """Chance that a bird got just this new tag, or this new ring."""
        row, before = knot.rows[renewal.row], knot.rows[renewal.before]
        limit = self.case.limit
        if renewal.field == "tag":
            # any tag of the season could have been the new one, a slip makes just this one
            again = limit("tagged_again_remarked" if self.signs.tag_remarked(row, before) else "tagged_again")
            return float(again / len(self.book.rings_of))
        if self.worn(row, before):
            # it is said: any ring will do
            return float(limit("ringed_again_remarked"))
        again = limit("ringed_again_later" if _year(row) != _year(before) else "ringed_again")
        places = self.signs.places_of_ring.get(state[renewal.row][0], ())
        if any(is_new_of_string(self.rings, i) for i in places):
            return float(again * limit("next_of_string"))
        if any(self.rings.at_home[i] for i in places):
            return float(again * limit("near_in_string"))
        return float(again * limit("lone_ring") / numbers_like(state[renewal.row][0]))

    def worn(self, row: TagRow, before: TagRow) -> bool:
        """Whether the remarks, or the list of lost rings, say that a bird got another ring."""
        return said_ringed_again(self.case, [row.label]) or taken_off(self.case, before.ring, before.day)

    def _evidence(self, knot: Knot, state: Sequence[tuple[str, str]], given: set[str]) -> float:
        """Weigh what reader, stock, strings, events and boxes say about the codes as they were then meant.

        Rings given in place of old ones have been weighed as such.
        """
        case, book, weight = self.case, self.book, 1.0
        unread, unstocked = float(case.limit("unread")), float(case.limit("unstocked"))
        meant_on: dict[str, set[str]] = defaultdict(set)
        for row, (_, key) in zip(knot.rows, state, strict=True):
            meant_on[row.day].add(key)
            read = book.read_on.get(row.day)
            if read and key not in read:
                weight *= unread
        typed = {row.key for row in knot.rows}
        for day, keys in meant_on.items():
            weight *= float(case.limit("read_by_chance")) ** len(
                (book.read_on.get(day, frozenset()) & typed) - keys
            )
        if book.stock:
            known = book.stock | book.read
            keys = {key for _, key in state if not key.startswith("?")}
            weight *= unstocked ** len(keys - known)
        asked = {key for _, key in state} | typed
        weight *= float(case.limit("lone_tag")) ** sum(
            book.mates.gaps_of_tag(key, asked) > case.limit("lone_tag_gaps")
            for key in {key for _, key in state if not key.startswith("?")}
        )
        seen: set[str] = set()
        for row, (_, meant) in zip(knot.rows, state, strict=True):
            # where a tag that nobody knows was meant, it stands as well or badly as the one typed
            key = row.key if meant.startswith("?") else meant
            if key not in seen and key not in book.known:
                seen.add(key)
                weight *= max(self.fitted.beside(key, row, asked), float(case.limit("fitted_apart")))
        rings = {ring for ring, _ in state if not ring.startswith("?")}
        for ring in sorted(rings - given):
            weight *= self._standing(ring, rings)
        weight *= float(case.limit("odd_event")) ** ringed_twice(knot, state)
        return float(weight * float(case.limit("moved")) ** self._moves(knot, state))

    def _standing(self, ring: str, among: set[str]) -> float:
        """Chance of just this ring: one in line is as good as certain, one out of line is any number."""
        case, book, weight = self.case, self.book, 1.0
        if book.share_of_ring_form(ring) < case.limit("odd_ring_share"):
            weight *= float(case.limit("odd_ring"))
        if book.mates.distance_of_ring(ring, among) <= case.limit("mate_distance"):
            return weight
        places = self.signs.places_of_ring.get(ring, ())
        if any(self.rings.at_home[i] for i in places):
            return weight * float(case.limit("lone_ring"))
        return weight * float(case.limit("lone_ring")) / numbers_like(ring)

    def _moves(self, knot: Knot, state: Sequence[tuple[str, str]]) -> int:
        """How often a bird changes box without having been typed so."""
        boxes: dict[str, set[str]] = defaultdict(set)
        typed: dict[str, set[str]] = defaultdict(set)
        for row, (ring, _) in zip(knot.rows, state, strict=True):
            if row.box:
                boxes[ring].add(row.box)
                typed[row.ring].add(row.box)
        return sum(
            max(len(found) - max(len(typed.get(ring, ())), 1), 0)
            for ring, found in boxes.items()
            if not ring.startswith("?")
        )


def weigher_of(case: Case, rings: Ringings, book: TagBook) -> Weigher:
    """Lay out what a season says of rows that hang together."""
    signs = SheetSigns(case, rings, book)
    return Weigher(case, rings, book, signs, FittedTogether(case, book), Slips(signs))


def _year(row: TagRow) -> str:
    return row.day.partition("-")[0]

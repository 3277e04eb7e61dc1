"""Rows that hang together by a ring or a tag, and every way in which they can have come about."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from statistics import median
from typing import TYPE_CHECKING, Literal

import numpy as np

from audit.models.components import components
from audit.models.matching import settle
from audit.rules.download import download_of
from audit.rules.marks import chance_of_ring, numbers_like
from audit.rules.rings_again import is_new_of_string, said_ringed_again, taken_off

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from numpy.typing import NDArray

    from audit.rules.case import Case
    from audit.rules.ringings import Ringings
    from audit.rules.tag_book import TagBook, TagRow

__all__ = ["UNKNOWN", "Account", "Change", "Field", "Knot", "Renewal", "Weigher", "knots_of"]

Field = Literal["ring", "tag"]

#: Signs of the two forms in which tags are compared.
_DECIMALS, _HEX = len("528140000795552"), len("0110ABCDEF")
_SIGNS = "0123456789ABCDEF"
#: Numbers of 15 digits are below this power of two.
_POWERS = np.iinfo(np.int64).bits

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


@dataclass(frozen=True)
class Weigher:
    """Weighs the ways in which a knot can have come about.

    Attributes
    ----------
    case, rings, book
        What the season says.
    """

    case: Case
    rings: Ringings
    book: TagBook

    # --- what the sheet shows

    @cached_property
    def _at(self) -> Mapping[int, TagRow]:
        """All handlings by place."""
        return {row.place: row for row in (*self.book.rows, *self.book.aside.values())}

    def copied(self, row: TagRow, field: Field) -> bool:
        """Whether a code repeats that of the row above, where this is not the same bird on another day."""
        above = self._at.get(row.place - 1)
        if above is None or (above.box == row.box and above.day != row.day):
            return False
        ring, key = self.book.above[row.label]
        return key == row.key if field == "tag" else ring == row.ring

    def tag_remarked(self, row: TagRow, before: TagRow) -> bool:
        """Whether a remark about this bird speaks of the tag, since the old one was last seen."""
        words = [str(word) for word in self.case.limit("remark_words")]
        said = [
            other.remarks.casefold()
            for other in (*self._of_ring.get(row.ring, ()), row)
            if before.day < other.day <= row.day or other.label == row.label
        ]
        return any(word in remark for word in words for remark in said)

    @cached_property
    def _of_ring(self) -> Mapping[str, list[TagRow]]:
        found: dict[str, list[TagRow]] = defaultdict(list)
        for row in self._at.values():
            if row.ring:
                found[row.ring].append(row)
        return found

    @cached_property
    def _place_of_ring(self) -> Mapping[str, list[int]]:
        found: dict[str, list[int]] = defaultdict(list)
        for i, ring in enumerate(self.rings.ring.tolist()):
            if ring:
                found[ring].append(i)
        return found

    # --- tags that were fitted together

    @cached_property
    def _fitted_at(self) -> Mapping[tuple[str, str], Mapping[str, int]]:
        """Tags fitted at each visit, as numbers."""
        found: dict[tuple[str, str], dict[str, int]] = defaultdict(dict)
        for row in self.book.rows:
            number = _number(row.key)
            if number is not None and row.day and row.box and self.book.fitted(row):
                found[row.visit][row.key] = number
        return found

    @cached_property
    def _apart(self) -> tuple[float, NDArray[np.float64]] | None:
        """Within which distance of the middle of their visit most tags lie; density beyond, by powers of two.

        Densities are beside that within. None where too few tags were fitted together to tell.
        """
        gaps = np.array(
            [
                abs(number - median([other for other in numbers if other != number]))
                for tags in self._fitted_at.values()
                if len(numbers := sorted(set(tags.values()))) > 1
                for number in numbers
            ],
            dtype=np.float64,
        )
        if len(gaps) < self.case.limit("fitted_least"):
            return None
        share = float(self.case.limit("fitted_within"))
        reach = max(float(np.quantile(gaps, share)), 1.0)
        within = share * len(gaps) / reach
        powers = np.frexp(gaps[gaps > reach])[1]
        counts = np.bincount(powers, minlength=_POWERS) + float(self.case.limit("fitted_weight"))
        return reach, np.asarray(counts / 2.0 ** (np.arange(len(counts)) - 1) / within, dtype=np.float64)

    def _beside(self, key: str, row: TagRow, asked: Collection[str]) -> float:
        """How likely a tag is among those fitted at one visit, beside the likeliest."""
        number = _number(key)
        mates = [other for one, other in self._fitted_at.get(row.visit, {}).items() if one not in asked]
        if number is None or not mates or self._apart is None or not self.book.fitted(row):
            return 1.0
        reach, beyond = self._apart
        gap = abs(number - median(mates))
        if gap <= reach:
            return 1.0
        return min(float(beyond[min(int(np.frexp(gap)[1]), len(beyond) - 1)]), 1.0)

    # --- accounts

    def accounts(self, knot: Knot) -> list[Account]:
        """List all ways with their weights: nothing wrong, one slip, and two where one is not enough."""
        if len(knot.rows) > self.case.limit("rows_most"):
            return []
        accounts = [self._weigh(knot, (), 1.0)]
        singles = [
            change
            for i in range(len(knot.rows))
            for change in (*self._tags(knot, i), *self._rings(knot, i))
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
        renewals = _renewals(knot, state, {change.row for change in changes})
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
            again = limit("tagged_again_remarked" if self.tag_remarked(row, before) else "tagged_again")
            return float(again / len(self.book.rings_of))
        if self.worn(row, before):
            # it is said: any ring will do
            return float(limit("ringed_again_remarked"))
        again = limit("ringed_again_later" if _year(row) != _year(before) else "ringed_again")
        places = self._place_of_ring.get(state[renewal.row][0], ())
        if any(is_new_of_string(self.rings, i) for i in places):
            return float(again * limit("next_of_string"))
        if any(self.rings.at_home[i] for i in places):
            return float(again * limit("near_in_string"))
        return float(again * limit("lone_ring") / numbers_like(state[renewal.row][0]))

    def worn(self, row: TagRow, before: TagRow) -> bool:
        """Whether the remarks, or the list of lost rings, say that a bird got another ring."""
        return said_ringed_again(self.case, [row.label]) or taken_off(self.case, before.ring, before.day)

    # --- evidence

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
            book.gaps_to_mate(key, asked) > case.limit("lone_tag_gaps")
            for key in {key for _, key in state if not key.startswith("?")}
        )
        seen: set[str] = set()
        for row, (_, meant) in zip(knot.rows, state, strict=True):
            # where a tag that nobody knows was meant, it stands as well or badly as the one typed
            key = row.key if meant.startswith("?") else meant
            if key not in seen and key not in book.known:
                seen.add(key)
                weight *= max(self._beside(key, row, asked), float(case.limit("fitted_apart")))
        rings = {ring for ring, _ in state if not ring.startswith("?")}
        for ring in sorted(rings - given):
            weight *= self._standing(ring, rings)
        weight *= float(case.limit("odd_event")) ** _ringed_twice(knot, state)
        return float(weight * float(case.limit("moved")) ** self._moves(knot, state))

    def _standing(self, ring: str, among: set[str]) -> float:
        """Chance of just this ring: one in line is as good as certain, one out of line is any number."""
        case, book, weight = self.case, self.book, 1.0
        if book.share_of_ring_form(ring) < case.limit("odd_ring_share"):
            weight *= float(case.limit("odd_ring"))
        if book.distance_to_mate(ring, among) <= case.limit("mate_distance"):
            return weight
        places = self._place_of_ring.get(ring, ())
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

    # --- slips

    def _tags(self, knot: Knot, i: int) -> list[Change]:
        """List tags that may have been meant in a row, with the chance that what stands there came of it."""
        case, book, row = self.case, self.book, knot.rows[i]
        wrong = case.limit("tag_wrong")
        here = {knot.rows[k].key for k in range(len(knot.rows)) if k != i and knot.visit(k) == knot.visit(i)}
        waiting = book.read_but_not_typed(row.day)
        own = {other.key for other in book.rows_of_ring.get(row.ring, ()) if other.label != row.label}
        meant = {
            *own,
            *(key for key in book.near_known(row.tag) if book.unused(key, row.ring)),
            *(other.key for other in knot.rows),
            *(key for key in waiting if book.unused(key, row.ring)),
        } - {row.key}
        foreign = self._foreign(
            copied=self.copied(row, "tag"), here=row.key in here, shared=len(book.rings_of[row.key]) > 1
        )
        download = download_of(case)
        near = download.nearest(row, waiting, [key for key in waiting if book.in_turn(row, key)])
        in_turn = float(case.limit("read_in_turn")) if near else 0.0
        changes = []
        for key in sorted(meant):
            # Which tag of another bird was copied says nothing about the tag that was meant.
            among = (1.0 - in_turn) / max(1, len(waiting)) + (in_turn / len(near) if key in near else 0.0)
            among = 1.0 if key in own else among
            chance = self._slip(book.printed(key), row.tag) + foreign * among
            changes.append(Change(i, "tag", key, wrong * chance))
        changes.append(Change(i, "tag", UNKNOWN, wrong * (foreign or case.limit("elsewhere"))))
        return changes

    def _rings(self, knot: Knot, i: int) -> list[Change]:
        """List rings that may have been meant in a row, as `_tags` does."""
        row = knot.rows[i]
        wrong = self.case.limit("ring_wrong")
        here = {knot.rows[k].ring for k in range(len(knot.rows)) if k != i and knot.visit(k) == knot.visit(i)}
        shared = any(other.ring == row.ring and other.label != row.label for other in knot.rows)
        foreign = self._foreign(copied=self.copied(row, "ring"), here=row.ring in here, shared=shared)
        changes = [
            Change(i, "ring", ring, wrong * (chance_of_ring(self.book.channel, row.ring, ring) + foreign))
            for ring in sorted({other.ring for other in knot.rows} - {row.ring})
        ]
        if row.ring in here:
            changes.append(Change(i, "ring", UNKNOWN, wrong * foreign))
        return changes

    def _foreign(self, *, copied: bool, here: bool, shared: bool) -> float:
        """Chance that another bird's code was written down instead."""
        if copied:
            return float(self.case.limit("copied"))
        if here:
            return float(self.case.limit("sibling"))
        return float(self.case.limit("elsewhere")) if shared else 0.0

    def _slip(self, meant: str, typed: str) -> float:
        """Chance that one slip of the hand made just this of the code that was meant."""
        return math.exp(self.book.channel.log_chance(typed, meant))

    # --- knots of many slips

    def untangled(self, knot: Knot) -> list[Change]:
        """Find the birds behind a knot of more than two slips, and the cells that are not theirs.

        Every row goes wholly to the bird that it fits best, one bird a row at each visit; what most rows of a
        bird say is its ring and its tag.
        """
        rows = knot.rows
        visits: dict[tuple[str, str], list[int]] = defaultdict(list)
        for i in range(len(rows)):
            visits[knot.visit(i)].append(i)
        rings = {ring: n for n, ring in enumerate(dict.fromkeys(row.ring for row in rows))}
        slips: dict[tuple[Field, str, str], float] = {}

        def slip(field: Field, typed: str, meant: str) -> float:
            if typed == meant:
                return 0.0
            at = (field, typed, meant)
            if at not in slips:
                wrong = math.log(self.case.limit(f"{field}_wrong"))
                shown = (
                    (typed, meant)
                    if field == "ring"
                    else (self.book.printed(typed), self.book.printed(meant))
                )
                chance = self._slip(shown[1], shown[0]) + float(self.case.limit("elsewhere"))
                slips[at] = wrong + math.log(chance)
            return slips[at]

        def weigh(row: int, members: Sequence[int]) -> float:
            ring = _most([rows[k].ring for k in members], rows[row].ring)
            key = _most([rows[k].key for k in members], rows[row].key)
            return slip("ring", rows[row].ring, ring) + slip("tag", rows[row].key, key)

        def new(row: int) -> float:
            shared = self._foreign(copied=self.copied(rows[row], "tag"), here=False, shared=True)
            return math.log(self.case.limit("tag_wrong") * shared)

        birds = settle(
            list(visits.values()),
            [rings[row.ring] for row in rows],
            weigh,
            new,
            int(self.case.limit("rounds_most")),
        )
        changes = []
        for bird in dict.fromkeys(birds):
            members = [i for i in range(len(rows)) if birds[i] == bird]
            for field in ("ring", "tag"):
                codes = [rows[i].ring if field == "ring" else rows[i].key for i in members]
                most = _most(codes, "")
                if codes.count(most) * 2 > len(codes):
                    changes += [
                        Change(i, "ring" if field == "ring" else "tag", most)
                        for i, code in zip(members, codes, strict=True)
                        if code != most
                    ]
        state = knot.meant(changes)
        return changes if changes and _renewals(knot, state, {change.row for change in changes}) == () else []


def _year(row: TagRow) -> str:
    return row.day.partition("-")[0]


def _number(key: str) -> int | None:
    """Return the number of a tag of digits, or of ten hexadecimal ones."""
    if not key.isascii():
        return None
    if key.isdigit() and len(key) == _DECIMALS:
        return int(key)
    return int(key, len(_SIGNS)) if len(key) == _HEX and all(sign in _SIGNS for sign in key) else None


def _ringed_twice(knot: Knot, state: Sequence[tuple[str, str]]) -> int:
    """How often a bird is said to be ringed that already was at another visit."""
    ringed: dict[str, set[tuple[str, str]]] = defaultdict(set)
    for i, (ring, _) in enumerate(state):
        if knot.rows[i].event == "ringed":
            ringed[ring].add(knot.visit(i))
    return sum(len(visits) - 1 for visits in ringed.values())


def _most(codes: Sequence[str], like: str) -> str:
    """Return the code that stands most often; of equals the one given, else the first in the alphabet."""
    return max(sorted(set(codes)), key=lambda code: (codes.count(code), code == like))


def _renewals(knot: Knot, state: Sequence[tuple[str, str]], changed: set[int]) -> tuple[Renewal, ...] | None:
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

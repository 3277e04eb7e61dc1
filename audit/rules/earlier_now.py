"""Handlings of this season beside the birds of earlier ones: what was met again, and how often that is so."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from audit.models.ring_number import bare, join_ring, split_ring
from audit.rules.birds import Birds, birds_of, growth_limit
from audit.rules.earlier_birds import EarlierBirds, Meeting, earlier_birds
from audit.rules.ringings import ringings_of
from audit.rules.tag_book import TagBook, open_tag_book

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from audit.models.keying import Channel
    from audit.rules.case import Case
    from audit.rules.ring_rows import Key, Ringings

__all__ = ["Again", "again_of"]

_TEN = 10
#: Longer numbers are no less likely than that.
_MOST_DIGITS = len("0123456789")
_NO_DAY = np.iinfo(np.int64).min


@dataclass(frozen=True)
class Again:
    """The season's handlings, one entry per row in sheet order, and what is known from before.

    Attributes
    ----------
    case : Case
    birds : EarlierBirds
    rings : Ringings
        Rings of the season; those in doubt are missing.
    typed : list of str
        Rings as read, those in doubt too.
    bare : list of str
        The same without separators.
    key, tag : list of str
        Tag, however written, and as read; empty where missing or in doubt.
    now : Birds
        Species, sex, wing and age of the season's birds; empty or missing where in doubt.
    remarks : list of str
        In small letters.
    """

    case: Case
    birds: EarlierBirds
    rings: Ringings
    book: TagBook
    typed: list[str]
    bare: list[str]
    key: list[str]
    tag: list[str]
    now: Birds
    remarks: list[str]
    channel: Channel

    @cached_property
    def middle(self) -> int:
        """A day in the middle of the season."""
        days = self.rings.day[self.rings.day != _NO_DAY]
        return int(np.median(days)) if days.size else 0

    @cached_property
    def begins(self) -> int:
        """First day of the season, whatever single dates say."""
        days = np.sort(self.rings.day[self.rings.day != _NO_DAY])
        return int(days[len(days) // self.case.limit("stray_dates")]) if days.size else 0

    def day(self, i: int) -> int:
        """Day of a row; where it is missing, one in the middle of the season."""
        day = int(self.rings.day[i])
        return self.middle if day == _NO_DAY else day

    def before(self, i: int, met: tuple[Meeting, ...]) -> tuple[Meeting, ...]:
        """Meetings that lie before a row."""
        day = self.day(i)
        return tuple(meeting for meeting in met if meeting.day < day)

    def of_ring(self, i: int, ring: str) -> tuple[Meeting, ...]:
        """Earlier meetings of a ring, written without separators."""
        return self.before(i, self.birds.of_ring.get(ring, ()))

    def of_tag(self, i: int, key: str) -> tuple[Meeting, ...]:
        """Earlier meetings of a tag."""
        return self.before(i, self._tags.get(key, ())) if key else ()

    @cached_property
    def _tags(self) -> Mapping[str, tuple[Meeting, ...]]:
        return self.birds.of_tag(self.book.habit)

    @cached_property
    def keys(self) -> Mapping[str, str]:
        """Key of each earlier tag, as written there."""
        return {meeting.tag: key for key, met in self._tags.items() for meeting in met}

    @cached_property
    def put_on(self) -> frozenset[str]:
        """Rings that were put on a bird in this season."""
        first = np.flatnonzero(self.rings.first & (self.rings.event == "ringed")).tolist()
        return frozenset(self.bare[i] for i in first)

    @cached_property
    def rows_of(self) -> Mapping[str, tuple[int, ...]]:
        """Rows by ring without separators, those in doubt left out."""
        rows: dict[str, list[int]] = defaultdict(list)
        for i, ring in enumerate(self.rings.ring.tolist()):
            if ring:
                rows[self.bare[i]].append(i)
        return {ring: tuple(found) for ring, found in rows.items()}

    def visits(self, ring: str) -> int:
        """At how many visits of this season a ring was met, without separators."""
        rows = self.rows_of.get(ring, ())
        known = {int(self.rings.visit[i]) for i in rows if self.rings.visit[i] >= 0}
        # a row without day or box is a visit of its own
        return len(known) + sum(1 for i in rows if self.rings.visit[i] < 0)

    def elsewhere(self, i: int, ring: str) -> list[int]:
        """Rows of a ring at other visits of this season."""
        visit = self.rings.visit[i]
        return [
            j for j in self.rows_of.get(ring, ()) if j != i and (visit < 0 or self.rings.visit[j] != visit)
        ]

    def outgrown(self, i: int, others: list[int]) -> bool:
        """Whether the bird of a row is full-grown, and a nestling in others."""
        return bool(self.now.grown[i] == 1) and any(self.now.grown[j] == 0 for j in others)

    def here(self, i: int, ring: str) -> bool:
        """Whether a ring stands in another row of the same visit."""
        visit = self.rings.visit[i]
        return visit >= 0 and any(j != i and self.rings.visit[j] == visit for j in self.rows_of.get(ring, ()))

    @cached_property
    def from_before(self) -> NDArray[np.bool_]:
        """Rows of birds that bore a ring before this season began: met again, and not put on this year."""
        told = self.rings.event == "re-encountered"
        grown = (self.rings.event == "") & (self.now.grown == 1)
        strange = np.array([bool(ring) and ring not in self.put_on for ring in self.bare], dtype=bool)
        new = self.rings.first & self.rings.at_home & (self.rings.event == "")
        return np.asarray((told | grown) & strange & ~new, dtype=bool)

    def _share(self, name: str, met: int, of: int) -> float:
        weight = float(self.case.limit("weight_of_shares"))
        return float((met + self.case.limit(name) * weight) / (of + weight))

    @cached_property
    def known_share(self) -> float:
        """Share of the birds from before, with rings of a series known from before, that the seasons hold."""
        known: dict[str, bool] = {}
        for i in np.flatnonzero(self.from_before & (self.rings.ring != "")).tolist():
            ring = self.bare[i]
            if self.birds.count(series_of(ring)):
                known[ring] = ring in self.birds.of_ring
        return self._share("known_share", sum(known.values()), len(known))

    @cached_property
    def box_share(self) -> float:
        """Share of the birds from before that are met in the box where they were met last."""
        same: dict[str, bool] = {}
        for i in np.flatnonzero(self.from_before & (self.rings.ring != "")).tolist():
            met = self.of_ring(i, self.bare[i])
            if met and self.rings.box[i]:
                same[self.bare[i]] = met[-1].box == self.rings.box[i]
        return self._share("box_share", sum(same.values()), len(same))

    @cached_property
    def again_share(self) -> float:
        """Share of the season's rows that are birds from before."""
        known = np.array([ring in self.birds.of_ring for ring in self.bare], dtype=bool)
        return self._share("again_share", int((self.from_before | known).sum()), len(self.bare))

    def chance_met(self, i: int, ring: str) -> float:
        """Probability that the bird of a row, one that is known from before, is the one with this ring."""
        box = str(self.rings.box[i])
        if box and any(self.rings.box[j] == box for j in self.elsewhere(i, ring)):
            return float(self.case.limit("near_in_season"))
        others = 1 / max(1, len(self.birds.of_ring))
        home = self.birds.in_box.get(box, frozenset())
        if not home or not box:
            return others
        if ring in home:
            return self.box_share / len(home) + (1 - self.box_share) * others
        return (1 - self.box_share) * others

    def chance_of_number(self, ring: str) -> float:
        """Probability that a ring of a series, of a bird that is not known, has just this number.

        It lies where birds are whose ring was not put on here, in the same hundred, thousand and so on; the
        fewer these are, the more is spread over the numbers between those on known birds, and over all. Among
        rings that are nearly all known few are left for a bird that is not.
        """
        key = series_of(ring)
        digits = min(key[1], _MOST_DIGITS)
        number = int(split_ring(ring)[1] or 0)
        low, high = self.birds.ends.get(key, (0, 0))
        inside = 1 / (high - low + 1) if low <= number <= high else 0.0
        spread = (inside + 1 / float(_TEN**digits)) / 2
        spread *= 1 - self._known_beside(key, number)
        others = [other for text, other in self._strangers.get(key, ()) if text != ring]
        widths = [_TEN**n for n in range(2, digits)]
        if not others or not widths:
            return spread
        near = [sum(other // width == number // width for other in others) / width for width in widths]
        weight = float(self.case.limit("strange_weight"))
        return float((spread * weight + sum(near) / len(widths)) / (weight + len(others)))

    def _known_beside(self, key: Key, number: int) -> float:
        """Share of the numbers below and above, within reach, that were put on known birds; never all."""
        reach = int(self.case.limit("reach"))
        put_on = self.birds.put_on.get(key, frozenset())
        beside = [other for other in range(number - reach, number + reach + 1) if other != number]
        return sum(other in put_on for other in beside) / (len(beside) + 1)

    @cached_property
    def _strangers(self) -> Mapping[Key, list[tuple[str, int]]]:
        """Rings that were not put on here, as far as known, by series: as met for the first time."""
        met = {ring for ring, first in self.birds.of_ring.items() if first[0].event == "re-encountered"}
        met |= {
            self.bare[i]
            for i in np.flatnonzero(self.from_before & (self.rings.ring != "")).tolist()
            if self.bare[i] not in self.birds.of_ring
        }
        found: dict[Key, list[tuple[str, int]]] = defaultdict(list)
        for ring in sorted(met):
            digits = split_ring(ring)[1]
            if digits:
                found[series_of(ring)].append((ring, int(digits)))
        return found

    def in_use(self, ring: str) -> float:
        """Share of the numbers of a series that are on birds known from before."""
        key = series_of(ring)
        return self.birds.count(key) / self.birds.span(key)

    def chance_of_bird(self, i: int, ring: str) -> float:
        """Probability that the bird of a row bears a ring that is not known from before."""
        others = self.elsewhere(i, ring)
        if others:
            box = str(self.rings.box[i])
            at_home = bool(box) and any(self.rings.box[j] == box for j in others)
            moved = float(self.case.limit("moved")) / len(self.bare)
            chance = float(self.case.limit("near_in_season")) if at_home else moved
            return chance * self.case.share("rates.field") if self.outgrown(i, others) else chance
        if self.rings.event[i] != "re-encountered" and self.rings.first[i]:
            new = 1 - self.again_share
            return new if self.rings.at_home[i] else new * self.chance_of_number(ring)
        return self.again_share * (1 - self.known_share) * self.chance_of_number(ring)

    def chance_of_tag(self, key: str) -> float:
        """Probability that a tag that is fitted now is this one."""
        shown = self.book.printed(key)
        if key in self.book.stock:
            return 1 / len(self.book.stock)
        chance = self.book.tree.chance(shown, but=shown)
        return chance * float(self.case.limit("unlisted")) if self.book.stock else chance

    @cached_property
    def tag_lands(self) -> float:
        """Chance that a wrong tag, not made by one slip, is one certain tag of an earlier season."""
        return float(self.case.limit("tag_lands")) / max(1, len(self._tags))

    def slip(self, typed: str, meant: str, above: str = "") -> float:
        """Chance that one slip of the hand made just this of the code that was meant."""
        return math.exp(self.channel.log_chance(typed, meant, above=above or None))

    def above(self, i: int) -> str:
        """Ring of the row above, without separators."""
        return self.bare[i - 1] if i else ""

    def read(self, i: int) -> frozenset[str]:
        """Tags that the reader stored on the day of a row."""
        day = int(self.rings.day[i])
        if day == _NO_DAY:
            return frozenset()
        return self.book.read_on.get(str(np.datetime64(day, "D")), frozenset())

    def written(self, meeting: Meeting) -> str:
        """Write the ring of an earlier bird as this season writes its series."""
        stem, digits = split_ring(meeting.ring)
        own = self.rings.own.get((bare(stem), len(digits)))
        return meeting.ring if own is None or not digits else join_ring(own, int(digits), len(digits))

    @cached_property
    def tags_of(self) -> Mapping[str, Counter[str]]:
        """Tags by ring without separators, as often as they stand there."""
        found: dict[str, Counter[str]] = defaultdict(Counter)
        for ring, key in zip(self.bare, self.key, strict=True):
            if ring and key:
                found[ring][key] += 1
        return found


def series_of(ring: str) -> Key:
    """Series of a ring: stem and number of digits."""
    stem, digits = split_ring(ring)
    return stem, len(digits)


def again_of(case: Case) -> Again:
    """Put the handlings of the season beside the birds of earlier ones."""
    frame = case.frame("handlings")
    typed = [value if isinstance(value, str) else "" for value in frame["ring"].tolist()]
    n = len(typed)
    key, tag = [""] * n, [""] * n
    book = open_tag_book(case)
    for row in book.rows:
        key[row.place], tag[row.place] = row.key, row.tag
    remarks = [""] * n
    if "remarks" in frame.columns:
        remarks = [value.casefold() if isinstance(value, str) else "" for value in frame["remarks"].tolist()]
    return Again(
        case,
        earlier_birds(case),
        ringings_of(case),
        book,
        typed,
        [bare(ring) for ring in typed],
        key,
        tag,
        birds_of(case, fallback=str(case.setting("season.species.default_species"))),
        remarks,
        case.declared.slips.channel(),
    )


def is_pullus(case: Case, age: str) -> bool:
    """Whether an age code is that of a nestling."""
    return age.upper() in {str(word) for word in growth_limit(case, "pullus_codes")}

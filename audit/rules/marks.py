"""Who is who in a brood: birds met again are told by their ring, their tag and their wing, one to one."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from functools import cached_property
from string import digits
from sys import float_info
from typing import TYPE_CHECKING

import numpy as np

from audit.declarations.species import species_index
from audit.models import growth
from audit.models.matching import marginals
from audit.models.ring_number import bare, split_ring

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from audit.models.growth import Curve
    from audit.models.keying import Channel
    from audit.rules.case import Case
    from audit.rules.ring_rows import Ringings
    from audit.rules.tag_book import TagBook, TagRow

    Floats = NDArray[np.float64]

__all__ = ["WINGS", "Bird", "Marks", "Met", "Wings", "chance_of_ring", "numbers_like"]

#: What the wings of `Wings` are read from.
WINGS: Mapping[str, tuple[str, ...]] = {"handlings": ("date", "species", "wing_mm")}


@dataclass(frozen=True, slots=True)
class Bird:
    """A bird of a brood as known from other visits: its rows and its ring."""

    rows: tuple[int, ...]
    ring: str


@dataclass(frozen=True, slots=True)
class Met:
    """The birds that the rows of one visit may be.

    Attributes
    ----------
    rows : tuple of int
        Rows of the visit.
    birds : tuple of Bird
        Birds of the brood.
    share : ndarray, shape (rows, birds + 1)
        Probability that a row is a bird; in the last column, that it is none of them.
    """

    rows: tuple[int, ...]
    birds: tuple[Bird, ...]
    share: Floats

    def of(self, row: int) -> tuple[Bird | None, float]:
        """Return the bird that a row most likely is, and how likely; no bird where it is rather a new one."""
        chances = self.share[self.rows.index(row)]
        best = int(np.argmax(chances))
        return (self.birds[best] if best < len(self.birds) else None), float(chances[best])


@dataclass(frozen=True)
class Wings:
    """How well the wing of one row goes with those of another day, if both are of one nestling.

    Attributes
    ----------
    day, wing, age, full : ndarray
        By row: days since 1970, mm, the age in days at which a wing has that length, and the length of a
        full-grown one; missing where unknown, or where nothing can be foretold.
    curves : sequence of Curve or None
        Growth of the wing by row, where the species has such a curve.
    own, brood, tail : float
        Spread of a bird about its own track, and of the birds of a brood, as shares of a full-grown wing;
        share of wings that tell nothing.
    """

    day: Floats
    wing: Floats
    age: Floats
    full: Floats
    curves: Sequence[Curve | None]
    own: float
    brood: float
    tail: float

    @classmethod
    def of(cls, case: Case) -> Wings:
        """Read the wings of the handlings; cells in doubt are missing."""
        frame = case.sure("handlings")
        limits = case.declared.rules["ring_order"].limits
        n = len(frame)
        day = frame["date"].to_numpy(dtype="datetime64[D]").astype(np.float64)
        day = np.where(frame["date"].isna().to_numpy(), np.nan, day)
        wing = np.full(n, np.nan)
        if "wing_mm" in frame.columns:
            wing = frame["wing_mm"].to_numpy(dtype=np.float64, na_value=np.nan)
        usual = str(case.setting("season.species.default_species"))
        slugs: list[str | None] = [usual] * n
        if "species" in frame.columns:
            index = species_index(case.declared.species)
            texts = frame["species"].fillna("").astype("str")
            meaning = {text: index.resolve(text) for text in texts.unique()}
            slugs = [meaning[text] for text in texts]
        curve_of = {
            slug: one.curves.get("wing_mm")
            for slug, one in case.declared.species.items()
            if (curve := one.curves.get("wing_mm")) is not None and curve.recession is None
        }
        kinds = np.array([slug or "" for slug in slugs], dtype=object)
        age, full = np.full(n, np.nan), np.full(n, np.nan)
        for slug, curve in curve_of.items():
            here = np.flatnonzero(kinds == slug)
            if curve is None or not len(here):
                continue
            full[here] = float(growth.mean(curve, curve.last_day))
            # what is as long as a full-grown wing has no age
            short = here[(wing[here] > 0) & (wing[here] < full[here])]
            age[short] = growth.age_of(curve, wing[short])
            age[short[age[short] >= curve.last_day]] = np.nan
        return cls(
            day,
            wing,
            age,
            full,
            [curve_of.get(slug or "") for slug in slugs],
            *(float(limits[f"wing_{name}"].value) for name in ("own", "brood", "tail")),
        )

    def off(self, row: int, other: int) -> float:
        """Wing of a row beyond what that of another day lets expect, as a share of a full-grown wing.

        Missing where either is unknown or nothing can be foretold.
        """
        curve, gap = self.curves[row], float(self.day[row] - self.day[other])
        if curve is None or curve is not self.curves[other] or math.isnan(gap) or not gap:
            return math.nan
        if math.isnan(self.age[row]) or math.isnan(self.age[other]):
            return math.nan
        age = float(self.age[other]) + gap
        if age < 0:
            return -1.0
        grown = float(growth.mean(curve, min(age, curve.last_day)))
        return (float(self.wing[row]) - grown) / float(self.full[row])

    def log_fit(self, off: float, usual: float) -> float:
        """Log of how much likelier a distance is for one and the same bird than for any two of a brood.

        Parameters
        ----------
        off : float
            As of `off`.
        usual : float
            What it is for birds whose marks leave no doubt: the curve may be wrong by so much.
        """
        if math.isnan(off):
            return 0.0
        same = _log_normal(off - usual, self.own)
        any_two = _log_normal(off - usual, math.hypot(self.own, self.brood))
        return float(np.logaddexp(math.log1p(-self.tail) + same - any_two, math.log(self.tail)))


def _log_normal(value: float, sd: float) -> float:
    return -((value / sd) ** 2) / 2 - math.log(sd)


def numbers_like(ring: str) -> float:
    """How many numbers of the form of a ring there are, about: half of all with as many digits."""
    long = min(max(len(split_ring(ring)[1]), 1), float_info.dig)
    return float(len(digits) ** long) / 2


def chance_of_ring(channel: Channel, typed: str, meant: str, above: str | None = None) -> float:
    """Probability of a typed ring, given the one that was meant and that it went wrong.

    A ring that is wrong for no known reason keeps the letters of its series.
    """
    chance = math.exp(channel.log_chance(typed, meant, above=above))
    if typed != meant and split_ring(typed)[0] == split_ring(meant)[0]:
        chance += channel.codes["unknown"] / numbers_like(meant) / 2
    return chance


@dataclass(frozen=True)
class Marks:
    """The marks of the season's birds, and what ties the rows of a visit to the birds of a brood."""

    case: Case
    rings: Ringings
    book: TagBook | None

    def limit(self, name: str) -> float:
        """Return a limit: they stand with the rule on the order of rings, whichever rule asks."""
        return float(self.case.declared.rules["ring_order"].limits[name].value)

    @cached_property
    def channel(self) -> Channel:
        """What becomes of a code in which the hand slips."""
        return self.case.declared.slips.channel()

    @cached_property
    def wings(self) -> Wings:
        """The wings of the handlings."""
        return Wings.of(self.case)

    @cached_property
    def tags(self) -> Mapping[int, TagRow]:
        """Rows of the tag book by place in the sheet."""
        return {} if self.book is None else {row.place: row for row in self.book.rows}

    def met(self, row: int) -> Met | None:
        """Match the rows of a visit with the birds of its brood; None where nothing is known of a brood.

        References
        ----------
        Fellegi, I. P. & Sunter, A. B. (1969). A theory for record linkage. JASA 64(328), 1183-1210: each
        mark adds the log of how likely it is for the same bird and for another one; here one to one.
        """
        rings = self.rings
        rows = [
            j
            for j in sorted(rings.rows_of_visit.get(int(rings.visit[row]), ()))
            if rings.ring[j] and self._alike(row, j)
        ]
        birds = self._brood(row, rows)
        if row not in rows or not birds:
            return None
        usual = self._usual_off(rows, birds)
        weights = np.array([[self._log_same(i, bird, usual) for bird in birds] for i in rows])
        new = np.array([self._log_new(i) for i in rows])
        share = marginals(
            weights, new, exact_birds=int(self.limit("exact_birds")), most=int(self.limit("matchings_most"))
        )
        return Met(tuple(rows), tuple(birds), share)

    def _alike(self, row: int, other: int) -> bool:
        age = self.rings.age
        return bool(age[row] == age[other] or not age[row] or not age[other])

    def _brood(self, row: int, rows: Sequence[int]) -> list[Bird]:
        """Birds met in the box at other visits, by ring."""
        rings = self.rings
        found: dict[str, list[int]] = {}
        for j in rings.rows_of_box.get(str(rings.box[row]), ()):
            near = rings.visit[j] >= 0 and abs(int(rings.day[j]) - int(rings.day[row])) <= rings.brood_days
            if near and rings.ring[j] and rings.visit[j] != rings.visit[row] and self._alike(row, j):
                found.setdefault(bare(str(rings.ring[j])), []).append(j)
        here = {bare(str(rings.ring[j])) for j in rows}
        return [
            Bird(tuple(sorted(members)), ring)
            for ring, members in sorted(found.items())
            if ring in here or self._told(members)
        ]

    def _told(self, members: Sequence[int]) -> bool:
        """Whether the ring of a bird is sure: put on in line, or met often, or on a full-grown bird."""
        rings = self.rings
        if any(rings.first[j] and not rings.at_home[j] for j in members):
            return False
        return len(members) > 1 or any(rings.first[j] or rings.grown[j] for j in members)

    def _usual_off(self, rows: Sequence[int], birds: Sequence[Bird]) -> float:
        """By how much wings miss the curve where ring and ring agree: the median."""
        by_ring = {bird.ring: bird for bird in birds}
        offs = [
            off
            for i in rows
            if (bird := by_ring.get(bare(str(self.rings.ring[i])))) is not None
            and math.isfinite(off := self._off(i, bird))
        ]
        return float(np.median(offs)) if offs else 0.0

    def _off(self, row: int, bird: Bird) -> float:
        offs = [off for j in bird.rows if math.isfinite(off := self.wings.off(row, j))]
        return float(np.median(offs)) if offs else math.nan

    def _log_same(self, row: int, bird: Bird, usual: float) -> float:
        """Log weight of a row as a bird that was met at other visits."""
        present = math.log(1 - self.limit("absent")) - math.log(self.limit("absent"))
        return (
            present
            + self._log_ring(row, bird.ring)
            + self._log_tag(row, bird)
            + self.wings.log_fit(self._off(row, bird), usual)
        )

    def _log_ring(self, row: int, meant: str) -> float:
        typed, wrong = bare(str(self.rings.ring[row])), self.case.share("rates.ring")
        if typed == meant:
            return math.log1p(-wrong)
        above = bare(str(self.rings.ring[row - 1])) if row else None
        return math.log(wrong * chance_of_ring(self.channel, typed, meant, above))

    def _log_tag(self, row: int, bird: Bird) -> float:
        here = self.tags.get(row)
        known = Counter(self.tags[j].key for j in bird.rows if j in self.tags)
        if here is None or self.book is None or not known:
            return 0.0
        wrong = self.case.share("rates.tag")
        if here.key in known:
            return math.log1p(-wrong)
        printed = {key: self.book.printed(key) for key in known}
        # either of the two may be the slip
        slip = sum(
            math.exp(self.channel.log_chance(here.tag, text))
            + math.exp(self.channel.log_chance(text, here.tag))
            for text in printed.values()
        )
        again = self.limit("tagged_again") / max(1, len(self.book.rings_of))
        return math.log(wrong * (slip + self._log_foreign(here)) + again)

    def _log_foreign(self, here: TagRow) -> float:
        """Chance that just this tag of another bird was written down instead of the bird's own."""
        book = self.book
        if book is None or not book.rings_of.get(here.key, frozenset()) - {here.ring, ""}:
            return 0.0
        return self.limit("tag_copied" if book.above[here.label][1] == here.key else "tag_of_another")

    def _log_new(self, row: int) -> float:
        """Log weight of a row as a bird that the brood did not have before."""
        rings, here = self.rings, self.tags.get(row)
        ring = bare(str(rings.ring[row]))
        elsewhere = [j for j in rings.rows_of_ring.get(ring, ()) if rings.box[j] != rings.box[row]]
        told = rings.event[row] == "re-encountered"
        weight = math.log(self.limit("stranger" if told else "late"))
        # one ring of all that are in use, or of all that could be
        weight -= math.log(max(2, len(rings.rows_of_ring)) if elsewhere or not told else numbers_like(ring))
        if here is None or self.book is None:
            return weight
        own = {self.tags[j].key for j in elsewhere if j in self.tags}
        wrong = self.case.share("rates.tag")
        if here.key in own:
            return weight + math.log1p(-wrong)
        others = self.book.rings_of.get(here.key, frozenset()) - {here.ring, ""}
        if others:
            return weight + math.log(wrong * self._log_foreign(here))
        return weight - math.log(max(2, len(self.book.rings_of)))

"""What size each bird should have, as far as species, age, company and the season's other birds tell."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from audit.rules.companions.expected import Expected
from audit.rules.scatter import log_sum
from audit.rules.sizes import Sizes, log_any

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.rules.birds import Birds

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]
    Words = NDArray[np.object_]

__all__ = ["Outlook", "outlook_of"]

#: Log odds beyond which one is sure, and the exponential still a number.
_SURE = float(np.log(np.finfo(np.float64).max)) / 2


@dataclass(frozen=True, slots=True)
class Outlook:
    """What is expected of each bird of one species.

    Attributes
    ----------
    birds : Birds
        All of the species, shape (n,).
    expected : Expected
        What the others foretell of each bird, its own measures at this visit left out, shape (n,).
    place : numpy.ndarray of int, shape (n,)
        Where each nestling stands in the company; -1 for other birds.
    """

    sizes: Sizes
    birds: Birds
    expected: Expected
    place: Ints
    _supports: dict[int, tuple[tuple[float, Expected], ...]] = field(
        default_factory=dict, repr=False, compare=False
    )

    def as_typed(self) -> tuple[Floats, Floats, Floats]:
        """Log density of all birds as typed; were the wing not known; were the mass not known."""
        birds, sizes, expected = self.birds, self.sizes, self.expected
        n = len(birds.wing)
        missing = np.full(n, np.nan)
        young = (np.zeros(n), np.zeros(n), np.zeros(n))
        nest = np.flatnonzero(birds.grown != 1)
        if len(nest):
            here = expected.of(nest)
            ages = self.log_ages(nest, here)
            wing = sizes.log_wing(birds.wing[nest], here)
            mass = sizes.log_mass(birds.mass[nest], here, birds.age[nest])
            for found, terms in zip(young, (ages + wing + mass, ages + mass, ages + wing), strict=True):
                found[nest] = log_sum(terms)
        return (
            self._by_class(young[0], birds.wing, birds.mass),
            self._by_class(young[1], missing, birds.mass),
            self._by_class(young[2], birds.wing, missing),
        )

    def distances(self) -> tuple[Floats, Floats]:
        """Tell how far wing and mass lie from what is foretold of them, in standard deviations, shape (n,).

        The least distance of a bird whose sex is not known; missing where nothing is foretold.
        """
        birds = self.birds
        wing, mass = np.full(len(birds.wing), np.nan), np.full(len(birds.wing), np.nan)
        old = birds.grown == 1
        wing[old], mass[old] = self._from_adults(old)
        nest = self.sizes.company.rows
        if len(nest):
            wing[nest], mass[nest] = self._from_company(nest)
        return wing, mass

    def _from_adults(self, old: Flags) -> tuple[Floats, Floats]:
        found = []
        for column, value in (("wing_mm", self.birds.wing[old]), ("mass_g", self.birds.mass[old])):
            least = np.full(len(value), np.nan)
            for sex in ("", "M", "F"):
                size = self.sizes.adult_range(sex, column)
                if size is not None:
                    z = np.log(value / size[0]) / size[1]
                    fits = (self.birds.sex[old] == sex) | (self.birds.sex[old] == "")
                    nearer = fits & ~(np.abs(z) >= np.abs(least))
                    least = np.where(nearer, z, least)
            found.append(least)
        return found[0], found[1]

    def _from_company(self, nest: Ints) -> tuple[Floats, Floats]:
        sizes, birds, expected = self.sizes, self.birds, self.expected.of(nest)
        if not sizes.follows:
            return (
                (np.log(birds.wing[nest]) - expected.log_wing) / expected.log_wing_sd,
                (np.log(birds.mass[nest]) - expected.log_mass) / expected.log_mass_sd,
            )
        return (
            sizes.company.wing_distances(birds.wing[nest], expected),
            sizes.company.mass_distances(birds.mass[nest], expected),
        )

    def _by_class(self, young: Floats, wing: Floats, mass: Floats) -> Floats:
        grown = self.birds.grown
        old = self.sizes.adult_evidence(wing, mass, self.birds.sex)
        old = old + self.sizes.log_any_age(self.birds.age)
        either = np.logaddexp(young, old) - np.log(2.0)
        return np.where(np.isnan(grown), either, np.where(grown == 1, old, young))

    def evidence(self, rows: NDArray[Any], wing: Floats, mass: Floats, grown: Floats) -> Floats:
        """Log density of recorded age, wing and mass of the birds at `rows`, were they of class `grown`."""
        young = self.as_nestling(rows, wing, mass)
        old = self.sizes.adult_evidence(wing, mass, self.birds.sex[rows])
        old = old + self.sizes.log_any_age(self.birds.age[rows])
        either = np.logaddexp(young, old) - np.log(2.0)
        return np.where(np.isnan(grown), either, np.where(grown == 1, old, young))

    def as_nestling(
        self,
        rows: NDArray[Any],
        wing: Floats,
        mass: Floats,
        *,
        heed_age: bool = True,
        heed_siblings: bool = True,
    ) -> Floats:
        """Log density of the birds at `rows` as nestlings, with or without what age and company say.

        The bird's other visits may be wrong themselves, or those of another bird: what they say is mixed with
        what would be expected without them.
        """
        if not heed_siblings:
            expected = Expected.nothing(len(rows), self.sizes.company.effects.mass_sd)
            return self._dense(rows, wing, mass, expected, heed_age=heed_age)
        found = np.empty(len(rows))
        for row in np.unique(rows):
            same = rows == row
            found[same] = self._of_one(int(row), wing[same], mass[same], heed_age=heed_age)
        return found

    def _of_one(self, row: int, wing: Floats, mass: Floats, *, heed_age: bool) -> Floats:
        here = np.array([row])
        found = [
            np.log(chance) + self._dense(here, wing, mass, expected, heed_age=heed_age)
            for chance, expected in self.supports(row)
        ]
        return log_sum(np.stack(found, axis=1))

    def _dense(
        self, rows: NDArray[Any], wing: Floats, mass: Floats, expected: Expected, *, heed_age: bool
    ) -> Floats:
        """Log density; one row may be given for many wings and masses."""
        sizes, age = self.sizes, self.birds.age[rows]
        recorded = (
            sizes.log_recorded(age, self.birds.age_sd[rows]) if heed_age else sizes.log_any_age(age)[:, None]
        )
        ages = recorded + sizes.log_company(expected) - np.log(len(sizes.days))
        told = age if heed_age else np.full(len(rows), np.nan)
        if len(rows) > 1:
            return log_sum(ages + sizes.log_wing(wing, expected) + sizes.log_mass(mass, expected, told))
        # many wings and masses of one bird are put together of few that differ
        (wings, of_wing), (masses, of_mass) = _distinct(wing), _distinct(mass)
        by_wing = ages + sizes.log_wing(wings, expected)
        by_mass = sizes.log_mass(masses, expected, told)
        pairs, of_pair = np.unique(of_wing * len(masses) + of_mass, return_inverse=True)
        one, other = np.divmod(pairs, len(masses))
        return log_sum(by_wing[one] + by_mass[other])[of_pair]

    def log_ages(self, rows: NDArray[Any], expected: Expected) -> Floats:
        """Log probability of each age tried, by recorded age and company, shape (k, g)."""
        recorded = self.sizes.log_recorded(self.birds.age[rows], self.birds.age_sd[rows])
        ages: Floats = recorded + self.sizes.log_company(expected) - np.log(len(self.sizes.days))
        return ages

    def most_likely(self, row: int) -> Expected:
        """Say what is expected of one bird, other visits that are rather wrong left out, shape (1,)."""
        _, expected = max(self.supports(row), key=lambda pair: pair[0])
        return expected

    def quantiles(self, row: int, column: str, levels: Floats) -> Floats:
        """Foretell a measure of one nestling from everything but itself.

        Parameters
        ----------
        row : int
            Which bird of the outlook.
        column : {'wing_mm', 'mass_g'}
        levels : numpy.ndarray, shape (q,)
            Between 0 and 1.

        Returns
        -------
        numpy.ndarray, shape (q,)
            In the unit of the measure.
        """
        top, soft = self.sizes.ceiling(column)
        values = np.linspace(0.0, top + 2 * soft, int(self.sizes.grain.sizes_tried) + 1)[1:]
        other = self.birds.mass[row] if column == "wing_mm" else self.birds.wing[row]
        beside = np.full(len(values), other)
        pair = (values, beside) if column == "wing_mm" else (beside, values)
        dense = self._of_one(row, *pair, heed_age=True)
        share = np.cumsum(np.exp(dense - dense.max()))
        return np.interp(levels, share / share[-1], values)

    def supports(self, row: int) -> tuple[tuple[float, Expected], ...]:
        """Say what is foretold of a nestling, and how likely: as typed, or were its other visits wrong."""
        if row not in self._supports:
            self._supports[row] = self._weigh_support(row)
        return self._supports[row]

    def _weigh_support(self, row: int) -> tuple[tuple[float, Expected], ...]:
        company, place = self.sizes.company, int(self.place[row])
        as_typed = self.expected.of(np.array([row]))
        if place < 0:
            return ((1.0, as_typed),)
        support = company.supporters(place)
        support = support[np.isfinite(company.wing[support]) | np.isfinite(company.mass[support])]
        if not len(support):
            return ((1.0, as_typed),)
        own = support[company.kin.bird[support] == company.kin.bird[place]]
        ring = company.ring_doubt(place, own)
        among = np.append(support, place)
        right = np.prod([1 - np.array(self._wrong(int(other), among)) for other in support], axis=0)
        wing, mass = 1 - right
        none = support[:0]
        found = [
            ((1 - ring) * (1 - wing) * (1 - mass), as_typed),
            ((1 - ring) * wing * (1 - mass), company.expect_without(place, support, none)),
            ((1 - ring) * (1 - wing) * mass, company.expect_without(place, none, support)),
            (ring + (1 - ring) * wing * mass, company.expect_without(place, support, support)),
        ]
        return tuple((float(chance), expected) for chance, expected in found if chance > 0)

    def _wrong(self, other: int, among: Ints) -> tuple[float, float]:
        """Probability that wing, and that mass, of a nestling is wrong, by all but those of its own bird."""
        company, sizes = self.sizes.company, self.sizes
        beside = among[among != other]
        expected = company.expect_without(other, beside, beside)
        rows = company.rows[[other]]
        wing, mass, gone = company.wing[[other]], company.mass[[other]], np.array([np.nan])
        fine = float(self._dense(rows, wing, mass, expected, heed_age=True)[0])
        odds = []
        for column, value, rest in (("wing_mm", wing, (gone, mass)), ("mass_g", mass, (wing, gone))):
            one = 0.0
            if np.isfinite(value[0]):
                anything = float(log_any(sizes, column, value)[0])
                left = float(self._dense(rows, rest[0], rest[1], expected, heed_age=True)[0])
                one = float(np.exp(min(np.log(sizes.grain.slip) + anything + left - fine, _SURE)))
            odds.append(one)
        return odds[0] / (1 + sum(odds)), odds[1] / (1 + sum(odds))


def outlook_of(sizes: Sizes, birds: Birds) -> Outlook:
    """Say what is expected of each bird of one species; full-grown birds in the box lend nothing."""
    company = sizes.company
    n = len(birds.wing)
    expected = Expected.nothing(n, company.effects.mass_sd)
    place = np.full(n, -1, dtype=np.int64)
    if len(company.rows):
        expected.put(company.rows, company.expect())
        place[company.rows] = np.arange(len(company.rows))
        # of a bird coded full-grown, the nestlings beside it tell what it would be if it were one of them
        beside = np.flatnonzero((birds.grown == 1) & np.isin(birds.visit, birds.visit[company.rows]))
        expected.put(beside, company.expect_beside(birds.visit[beside]))
    return Outlook(sizes, birds, expected, place)


def _distinct(values: Floats) -> tuple[Floats, Ints]:
    """Return the values that differ, missing ones as one of them, and which of these each is."""
    some, at = np.unique(values, return_inverse=True)
    return some, np.asarray(at, dtype=np.int64)

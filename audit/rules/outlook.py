"""What size each bird should have, as far as species, age, company and the season's other birds tell."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from audit.rules.companions.expected import Expected
from audit.rules.nestling_density import Nestlings, Ways
from audit.rules.scatter import log_sum
from audit.rules.support import supports_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.rules.birds import Birds
    from audit.rules.sizes import Sizes

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["Outlook", "outlook_of"]


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
    _supports: dict[int, Ways] = field(default_factory=dict, repr=False, compare=False)

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
        young, old = np.zeros(len(rows)), np.zeros(len(rows))
        # each asking of a class that a bird is not of would be in vain
        nest, full = np.flatnonzero(grown != 1), np.flatnonzero(grown != 0)
        if len(nest):
            young[nest] = self.as_nestling(rows[nest], wing[nest], mass[nest])
        if len(full):
            there = rows[full]
            old[full] = self.sizes.adult_evidence(wing[full], mass[full], self.birds.sex[there])
            old[full] += self.sizes.log_any_age(self.birds.age[there])
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
        nestlings = Nestlings(self.sizes, self.birds, heed_age)
        if not heed_siblings:
            nothing = Expected.nothing(len(rows), self.sizes.company.effects.mass_sd)
            return nestlings.dense(rows, wing, mass, nothing)
        birds = np.unique(rows).tolist()
        self._weigh_supports(birds)
        return nestlings.mixed(rows, wing, mass, [self._supports[row] for row in birds])

    def log_ages(self, rows: NDArray[Any], expected: Expected) -> Floats:
        """Log probability of each age tried, by recorded age and company, shape (k, g)."""
        return Nestlings(self.sizes, self.birds).ages(rows, expected)

    def most_likely(self, row: int) -> Expected:
        """Say what is expected of one bird, other visits that are rather wrong left out, shape (1,)."""
        _, expected = max(self.supports(row), key=lambda pair: pair[0])
        return expected

    def supports(self, row: int) -> Ways:
        """Say what is foretold of a nestling, and how likely: as typed, or were its other visits wrong."""
        self._weigh_supports([row])
        return self._supports[row]

    def _weigh_supports(self, rows: Sequence[int]) -> None:
        new = [row for row in rows if row not in self._supports]
        if new:
            self._supports.update(supports_of(self, new))


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
        if len(beside):
            expected.put(beside, company.expect_beside(birds.visit[beside]))
    return Outlook(sizes, birds, expected, place)

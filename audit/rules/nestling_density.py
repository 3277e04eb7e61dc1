"""How likely wings and masses are of nestlings, whose age nobody knows for sure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from audit.rules.companions.expected import Expected
from audit.rules.scatter import log_sum

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.rules.birds import Birds
    from audit.rules.sizes import Sizes

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Nestlings", "Ways"]

#: So many pairs are summed at once: their ages then stay near the processor.
_AT_ONCE = 100
#: What may be foretold of a bird: how likely, and what it is then, shape (1,).
Ways = tuple[tuple[float, Expected], ...]


@dataclass(frozen=True, slots=True)
class Nestlings:
    """Birds taken for nestlings; all densities are logarithms, summed over the ages tried.

    Attributes
    ----------
    heed_age : bool
        Whether recorded ages count.
    """

    sizes: Sizes
    birds: Birds
    heed_age: bool = True

    def ages(self, rows: NDArray[Any], expected: Expected) -> Floats:
        """Log probability of each age tried, by recorded age and company, shape (k, g)."""
        sizes, age = self.sizes, self.birds.age[rows]
        if self.heed_age:
            recorded = sizes.log_recorded(age, self.birds.age_sd[rows])
        else:
            recorded = sizes.log_any_age(age)[:, None]
        ages: Floats = recorded + sizes.log_company(expected) - np.log(len(sizes.days))
        return ages

    def dense(self, rows: NDArray[Any], wing: Floats, mass: Floats, expected: Expected) -> Floats:
        """Log density of recorded age, wing and mass of the birds at `rows`, shape (k,)."""
        told = self._told(rows)
        ages = self.ages(rows, expected)
        return log_sum(ages + self.sizes.log_wing(wing, expected) + self.sizes.log_mass(mass, expected, told))

    def mixed(self, rows: NDArray[Any], wing: Floats, mass: Floats, ways: Sequence[Ways]) -> Floats:
        """Log density where each of several things may be foretold of a bird, shape (k,).

        Parameters
        ----------
        rows : numpy.ndarray of int, shape (k,)
            Many wings and masses may be those of one bird.
        wing, mass : numpy.ndarray, shape (k,)
        ways : sequence
            Of each bird of `rows`, in the order of their numbers.
        """
        if not len(rows):
            return np.zeros(0)
        birds, of_bird = np.unique(rows, return_inverse=True)
        # they are put together of few that differ
        wings, masses = _distinct(of_bird, wing), _distinct(of_bird, mass)
        pairs, of_pair = np.unique(wings.of * len(masses.bird) + masses.of, return_inverse=True)
        of_wing, of_mass = np.divmod(pairs, len(masses.bird))
        many = np.array([len(one) for one in ways])
        # each bird once for each of its ways: in a world of its own
        first = np.cumsum(many) - many
        expected = Expected.one_by_one([one for of_one in ways for _, one in of_one])
        chance = np.array([one for of_one in ways for one, _ in of_one])
        by_wing, wing_at = self._by_wing(birds, wings, expected, (first, many))
        by_mass, mass_at = self._by_mass(birds, masses, expected, (first, many))
        pair, way = _times(many[masses.bird[of_mass]])
        dense = _log_sums(by_wing, by_mass, wing_at[of_wing[pair]] + way, mass_at[of_mass[pair]] + way)
        found = np.full((len(pairs), int(many.max())), -np.inf)
        found[pair, way] = np.log(chance[first[masses.bird[of_mass[pair]]] + way]) + dense
        return log_sum(found)[of_pair]

    def _by_wing(
        self, rows: Ints, wings: _Distinct, expected: Expected, worlds: tuple[Ints, Ints]
    ) -> tuple[Floats, Ints]:
        """Log density of ages and wings in all worlds of a wing's bird, and where those of each begin."""
        first, many = worlds
        value, way = _times(many[wings.bird])
        world = first[wings.bird[value]] + way
        ages = self.ages(np.repeat(rows, many), expected)[world]
        if self.sizes.follows:
            # a wing that tells ages is held against its curve, the same in every world
            dense = self.sizes.log_wing(wings.value, expected.of(first[wings.bird]))[value]
        else:
            dense = self.sizes.log_wing(wings.value[value], expected.of(world))
        return ages + dense, np.flatnonzero(way == 0)

    def _by_mass(
        self, rows: Ints, masses: _Distinct, expected: Expected, worlds: tuple[Ints, Ints]
    ) -> tuple[Floats, Ints]:
        """Log density of masses in all worlds of a mass's bird, and where those of each begin."""
        first, many = worlds
        value, way = _times(many[masses.bird])
        told = self._told(rows)[masses.bird[value]]
        world = expected.of(first[masses.bird[value]] + way)
        return self.sizes.log_mass(masses.value[value], world, told), np.flatnonzero(way == 0)

    def _told(self, rows: NDArray[Any]) -> Floats:
        return self.birds.age[rows] if self.heed_age else np.full(len(rows), np.nan)


@dataclass(frozen=True, slots=True)
class _Distinct:
    """Values that differ, by bird.

    Attributes
    ----------
    bird, value : numpy.ndarray, shape (d,)
    of : numpy.ndarray of int
        Which of these each value is.
    """

    bird: Ints
    value: Floats
    of: Ints


def _times(many: Ints) -> tuple[Ints, Ints]:
    """Name each place so many times, and count them: 2, 1 gives places 0, 0, 1 and counts 0, 1, 0."""
    places = np.repeat(np.arange(len(many)), many)
    return places, np.arange(len(places)) - np.repeat(np.cumsum(many) - many, many)


def _log_sums(wings: Floats, masses: Floats, wing: Ints, mass: Ints) -> Floats:
    """Sum over all ages tried, for pairs of a wing and a mass by their places."""
    found = np.empty(len(wing))
    for start in range(0, len(wing), _AT_ONCE):
        some = slice(start, start + _AT_ONCE)
        found[some] = log_sum(wings[wing[some]] + masses[mass[some]])
    return found


def _distinct(of_bird: Ints, values: Floats) -> _Distinct:
    """Find the values that differ; missing ones of a bird count as one."""
    some, at = np.unique(values, return_inverse=True)
    codes, of = np.unique(of_bird * len(some) + at, return_inverse=True)
    bird, places = np.divmod(codes, len(some))
    return _Distinct(bird, some[places], of)

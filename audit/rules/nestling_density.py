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
    Flags = NDArray[np.bool_]

__all__ = ["Nestlings", "Ways"]

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
        of_bird = masses.bird[of_mass]
        found = np.full((len(pairs), max(map(len, ways))), -np.inf)
        for k in range(found.shape[1]):
            some = np.array([len(one) > k for one in ways])
            expected = Expected.one_by_one([one[k][1] for one in ways if len(one) > k])
            chance = np.full(len(ways), np.nan)
            chance[some] = [one[k][0] for one in ways if len(one) > k]
            there = some[of_bird]
            by_wing, by_mass = wings.only(some), masses.only(some)
            # the places of what is left
            pair = by_wing.of[of_wing[there]], by_mass.of[of_mass[there]]
            dense = self._put_together(birds[some], expected, by_wing, by_mass, pair)
            found[there, k] = np.log(chance[of_bird[there]]) + dense
        return log_sum(found)[of_pair]

    def _put_together(
        self, rows: Ints, expected: Expected, wings: _Distinct, masses: _Distinct, pairs: tuple[Ints, Ints]
    ) -> Floats:
        """Log density of pairs of a wing and a mass, each of them worked out once for its bird."""
        told = self._told(rows)
        by_wing = self.sizes.log_wing(wings.value, expected.of(wings.bird))
        by_mass = self.sizes.log_mass(masses.value, expected.of(masses.bird), told[masses.bird])
        by_wing = self.ages(rows, expected)[wings.bird] + by_wing
        return log_sum(by_wing[pairs[0]] + by_mass[pairs[1]])

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

    def only(self, some: Flags) -> _Distinct:
        """Keep those of some birds, which are numbered anew; `of` then tells where each was put."""
        here = some[self.bird]
        return _Distinct((np.cumsum(some) - 1)[self.bird[here]], self.value[here], np.cumsum(here) - 1)


def _distinct(of_bird: Ints, values: Floats) -> _Distinct:
    """Find the values that differ; missing ones of a bird count as one."""
    some, at = np.unique(values, return_inverse=True)
    codes, of = np.unique(of_bird * len(some) + at, return_inverse=True)
    bird, places = np.divmod(codes, len(some))
    return _Distinct(bird, some[places], of)

"""How bags are used in a round: which mass of a bag to expect beside the others of visit and day."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["BagHabits", "BagUse", "usual_drift"]

_TEN = 10
_HUNDREDTHS = 100
_LEAST = float(np.finfo(np.float64).tiny)


@dataclass(frozen=True, slots=True)
class BagHabits:
    """How bags are used, and what they weigh: all values come from the declarations.

    Attributes
    ----------
    same_in_visit, same_in_day, drifted, other : float
        Probability that the bag has exactly a mass used in the same box-visit; on the same day; such a mass
        after it got wet, dirty or was emptied; another mass.
    drift_sd_g, swing_sd_g : float
        Usual change of one bag from bird to bird, and that of a bag that got wet or was emptied, g.
    swing_share : float
        Share of the changes of the second kind.
    beyond : float
        Share of the other bags that lie outside the usual range.
    low_g, high_g : float
        Usual range, g.
    drift_rows : int
        How many rows up and down the sheet are looked at for a bag that drifts.
    """

    same_in_visit: float
    same_in_day: float
    drifted: float
    other: float
    drift_sd_g: float
    swing_sd_g: float
    swing_share: float
    beyond: float
    low_g: float
    high_g: float
    drift_rows: int


@dataclass(frozen=True)
class BagUse:
    """The bags of a season, and how likely a mass is for the bag of one row given all other rows.

    Attributes
    ----------
    bag : ndarray, shape (n,)
        Bag masses as typed, g, in sheet order.
    visit, day : ndarray of int, shape (n,)
        Number of the box-visit and of the day's round (date and ringer) of each row.
    """

    bag: Floats
    visit: Ints
    day: Ints
    habits: BagHabits

    def log_chance(self, mass: Floats, unit: Floats, rows: Ints) -> Floats:
        """Log probability that the bag of each of `rows` weighs `mass`, given the bags of all other rows.

        Parameters
        ----------
        mass, unit : ndarray, shape (k,)
            Supposed mass and unit of its last digit, g.
        rows : ndarray of int, shape (k,)
            Positions of the rows.
        """
        habits = self.habits
        in_visit, has_siblings = self._share_of_same(self.visit, self._in_visit, mass, rows)
        in_day, has_mates = self._share_of_same(self.day, self._in_day, mass, rows)
        drift, has_neighbours = self._drift(mass, unit, rows)
        inside = (mass >= habits.low_g) & (mass <= habits.high_g)
        span = max(habits.high_g - habits.low_g, 1.0)
        other = np.where(inside, 1 - habits.beyond, habits.beyond) * np.minimum(unit / span, 1.0)
        weights = np.stack(
            [
                habits.same_in_visit * has_siblings,
                habits.same_in_day * has_mates,
                habits.drifted * has_neighbours,
                np.full(len(rows), habits.other),
            ]
        )
        weights = weights / weights.sum(axis=0)
        # a balance set to zero with the bag on it is a habit of a visit or a day, never a bag that drifted
        real = mass > 0
        chance = (weights * np.stack([in_visit, in_day, drift * real, other * real])).sum(axis=0)
        return np.log(np.maximum(np.where(np.isfinite(mass) & (mass >= 0), chance, 0.0), _LEAST))

    def beside(self, rows: Ints, step: int | Ints) -> Floats:
        """Bag of the row `step` places further down the sheet on the same day, g; NaN where there is none.

        Of several steps, shape (s, 1), the bags are of shape (s, len(rows)).
        """
        at = rows + step
        inside = (at >= 0) & (at < len(self.bag))
        safe = np.where(inside, at, rows)
        return np.where(inside & (self.day[safe] == self.day[rows]), self.bag[safe], np.nan)

    def usual(self, rows: Ints) -> Floats:
        """Bag that the rows beside each row used, g: the one above, unless only the one below is known."""
        above, below = self.beside(rows, -1), self.beside(rows, 1)
        return np.where(np.isfinite(above), above, below)

    def mates(self, rows: Ints) -> Ints:
        """How many other rows of the same day have a bag."""
        known = np.isfinite(self.bag)
        counts = np.bincount(self.day[known], minlength=int(self.day.max(initial=0)) + 1).astype(np.int64)
        return counts[self.day[rows]] - known[rows]

    @cached_property
    def _in_visit(self) -> tuple[Ints, ...]:
        return self._counted(self.visit)

    @cached_property
    def _in_day(self) -> tuple[Ints, ...]:
        return self._counted(self.day)

    def _counted(self, group: Ints) -> tuple[Ints, ...]:
        """Bag of each row in its group; bags met in each group, how often each, and how many each has."""
        known = np.isfinite(self.bag)
        of_rows = _bag_codes(group, self.bag)
        codes, counts = np.unique(of_rows[known], return_counts=True)
        sizes = np.bincount(group[known], minlength=int(group.max(initial=0)) + 1)
        return of_rows, codes, counts.astype(np.int64), sizes.astype(np.int64)

    def _share_of_same(
        self, group: Ints, counted: tuple[Ints, ...], mass: Floats, rows: Ints
    ) -> tuple[Floats, Flags]:
        of_rows, codes, counts, sizes = counted
        wanted = _bag_codes(group[rows], mass)
        same = np.zeros(len(rows))
        if len(codes):
            at = np.minimum(np.searchsorted(codes, wanted), len(codes) - 1)
            same = np.where(codes[at] == wanted, counts[at], 0).astype(np.float64)
        own = np.isfinite(self.bag[rows])
        same -= own & (of_rows[rows] == wanted)
        others = sizes[group[rows]] - own
        return np.where(others > 0, same / np.maximum(others, 1), 0.0), others > 0

    def _drift(self, mass: Floats, unit: Floats, rows: Ints) -> tuple[Floats, Flags]:
        near = self._near(rows)
        known = np.isfinite(near)
        change = np.where(known, mass[None, :] - near, 0.0)
        habits = self.habits
        chance = (1 - habits.swing_share) * _bell(change, habits.drift_sd_g, unit)
        chance += habits.swing_share * _bell(change, habits.swing_sd_g, unit)
        n = known.sum(axis=0)
        return np.where(known, chance, 0.0).sum(axis=0) / np.maximum(n, 1), n > 0

    def _near(self, rows: Ints) -> Floats:
        reach = self.habits.drift_rows
        steps = np.array([step for step in range(-reach, reach + 1) if step], dtype=np.int64)
        return self.beside(rows, steps[:, None])


def usual_drift(bag: Floats, day: Ints, reach: int) -> float:
    """Median change between a bag and the most similar one typed a few rows up or down on the same day, g.

    Parameters
    ----------
    bag : ndarray, shape (n,)
        Bag masses, g, in sheet order.
    day : ndarray of int, shape (n,)
        Number of the day's round of each row.
    reach : int
        How many rows up and down are looked at.

    Returns
    -------
    float
        NaN when no two bags can be compared.
    """
    rows = np.arange(len(bag), dtype=np.int64)
    steps = [step for step in range(-reach, reach + 1) if step]
    least = np.full(len(bag), np.inf)
    for step in steps:
        at = np.clip(rows + step, 0, max(len(bag) - 1, 0))
        comparable = (at == rows + step) & (day[at] == day) & np.isfinite(bag[at]) & np.isfinite(bag)
        least = np.where(comparable, np.minimum(least, np.abs(bag[at] - bag)), least)
    found = least[np.isfinite(least)]
    return float(np.median(found)) if len(found) else float("nan")


def _bell(distance: Floats, sd: float, unit: Floats) -> Floats:
    """Probability of a distance rounded to the unit, under a normal distribution."""
    # a narrow bell must not promise more than certainty for one rounded value
    wide = np.maximum(sd, unit / 2)
    density: Floats = np.exp(-((distance / wide) ** 2) / 2) * unit / (wide * np.sqrt(2 * np.pi))
    return density


def _bag_codes(groups: Ints, masses: Floats) -> Ints:
    """One number for each bag mass in each group."""
    base = _TEN**7
    hundredths = np.clip(np.rint(np.nan_to_num(masses) * _HUNDREDTHS), 0, base - 1)
    codes: Ints = groups * base + hundredths.astype(np.int64)
    return codes

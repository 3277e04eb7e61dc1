"""The siblings of each nestling: how many young its brood has, and how old the others are."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.kinship import Kin

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["ages_of_siblings", "young_in_brood"]


def young_in_brood(kin: Kin) -> Ints:
    """How many birds the brood of each nestling has, shape (n,)."""
    if not len(kin.brood):
        return np.zeros(0, dtype=np.int64)
    pair = kin.brood * (int(kin.bird.max()) + 1) + kin.bird
    _, first = np.unique(pair, return_index=True)
    broods, n = np.unique(kin.brood[first], return_counts=True)
    return np.asarray(n[np.searchsorted(broods, kin.brood)], dtype=np.int64)


def ages_of_siblings(hatched: Floats, since: Floats, kin: Kin) -> tuple[Floats, Floats]:
    """Age of the youngest and of the oldest sibling of each nestling on the day of its row, shape (n,).

    Parameters
    ----------
    hatched : numpy.ndarray, shape (n,)
        Age that each wing tells, taken back to the first visit to the brood; missing where it tells none.
    since : numpy.ndarray, shape (n,)
        Days from that visit.
    """
    lowest, highest = np.full(len(hatched), np.nan), np.full(len(hatched), np.nan)
    rows = np.flatnonzero(np.isfinite(hatched))
    if not len(rows):
        return lowest, highest
    pair = kin.brood[rows] * (int(kin.bird.max()) + 1) + kin.bird[rows]
    _, first, code = np.unique(pair, return_index=True, return_inverse=True)
    age = np.bincount(code, weights=hatched[rows]) / np.bincount(code)
    bird, brood = kin.bird[rows[first]], kin.brood[rows[first]]
    for found, sign in ((lowest, 1.0), (highest, -1.0)):
        order = np.lexsort((sign * age, brood))
        starts = np.flatnonzero(np.r_[True, np.diff(brood[order]) != 0])
        n = np.diff(np.r_[starts, len(order)])
        # the outermost is the sibling of all but itself, who has the next one
        next_one = np.where(n > 1, order[np.minimum(starts + 1, len(order) - 1)], -1)
        at = np.minimum(np.searchsorted(brood[order][starts], kin.brood), len(starts) - 1)
        there = brood[order[starts[at]]] == kin.brood
        mate = np.where(bird[order[starts[at]]] == kin.bird, next_one[at], order[starts[at]])
        found[:] = np.where(there & (mate >= 0), age[mate], np.nan) + since
    return lowest, highest

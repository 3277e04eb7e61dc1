"""Pairs of measures that stand out from all others: slips rather than error of measurement."""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import stdtrit

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Flags = NDArray[np.bool_]

__all__ = ["odd_pairs"]


def odd_pairs(differences: ArrayLike, unit: float, chance: float, *, fewest: int, most: float) -> Flags:
    """Mark pairs that lie so far from all others that they are slips rather than error of measurement.

    Parameters
    ----------
    differences : array_like, shape (n,)
        Missing ones are never marked.
    unit : float
        Step in which values are read: differences scatter by rounding, too, also where few show it; 0 for
        none.
    chance : float
        Of marking anything where nothing but normal error is at work.
    fewest : int
        Among fewer pairs none is marked: nobody knows what is usual.
    most : float
        Share of the pairs that can be marked.

    Returns
    -------
    numpy.ndarray of bool, shape (n,)

    Notes
    -----
    The farthest from the mean is taken out, then the next, and each distance in standard deviations of those
    left is held against what the farthest of so many normal values exceeds by chance; the last one that does
    is marked with all before it, so that one slip does not hide another. Rounding two readings to a step has
    a variance of step**2 / 6, which is added.

    References
    ----------
    Rosner, B. (1983). Percentage points for a generalized ESD many-outlier procedure. Technometrics 25,
    165-172; as in the NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.5.17.3.

    Examples
    --------
    >>> odd_pairs([0, 1, -1, 0, 1, 18], 1.0, 0.01, fewest=5, most=0.2).tolist()
    [False, False, False, False, False, True]
    """
    d = np.asarray(differences, dtype=np.float64)
    found = np.zeros(len(d), dtype=bool)
    left = np.flatnonzero(np.isfinite(d)).tolist()
    n = len(left)
    if n < fewest:
        return found
    taken: list[int] = []
    last = 0
    for number in range(1, max(1, int(most * n)) + 1):
        kept = d[left]
        scatter = sqrt(float(kept.var(ddof=1)) + unit**2 / 6)
        off = np.abs(kept - kept.mean())
        farthest = int(np.argmax(off))
        if not scatter:
            break
        t = float(stdtrit(n - number - 1, 1 - chance / 2 / (n - number + 1)))
        bound = (n - number) * t / sqrt((n - number - 1 + t**2) * (n - number + 1))
        taken.append(left.pop(farthest))
        if off[farthest] / scatter > bound:
            last = number
    found[taken[:last]] = True
    return found

"""Pairs of measures that stand out from all others: slips rather than error of measurement."""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Flags = NDArray[np.bool_]

__all__ = ["odd_pairs"]

_FEWEST = 5
#: A median absolute deviation times this is the standard deviation of normal values.
_NORMAL = 1.4826


def odd_pairs(differences: ArrayLike, unit: float, beyond: float) -> Flags:
    """Mark pairs that lie so far from all others that they are slips rather than error of measurement.

    Parameters
    ----------
    differences : array_like, shape (n,)
        Missing ones are never marked.
    unit : float
        Step in which values are read: differences scatter at least as rounding to it makes them.
    beyond : float
        Robust standard deviations off the middle from which a pair stands out.

    Returns
    -------
    numpy.ndarray of bool, shape (n,)
        None is marked among fewer than five pairs, where nobody knows what is usual.

    Notes
    -----
    The middle is the median, the scatter 1.4826 median absolute deviations, so that the odd ones do not hide
    themselves. Rounding two readings to a step has a standard deviation of step / sqrt(6).

    References
    ----------
    Iglewicz, B. & Hoaglin, D. C. (1993). How to Detect and Handle Outliers (from memory).

    Examples
    --------
    >>> odd_pairs([0, 1, -1, 0, 1, 18], 1.0, 3.5).tolist()
    [False, False, False, False, False, True]
    """
    d = np.asarray(differences, dtype=np.float64)
    known = np.isfinite(d)
    found = np.zeros(len(d), dtype=bool)
    if known.sum() < _FEWEST:
        return found
    middle = float(np.median(d[known]))
    scatter = max(_NORMAL * float(np.median(np.abs(d[known] - middle))), unit / sqrt(6))
    found[known] = np.abs(d[known] - middle) > beyond * scatter
    return found

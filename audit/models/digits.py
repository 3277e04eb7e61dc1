"""Last digits, and how unevenly an observer uses them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Preference", "last_digits", "on_step", "preference"]

_TEN = 10
_FIVE = 5
_HUNDRED = 100


@dataclass(frozen=True, slots=True)
class Preference:
    """How unevenly last digits are used.

    Attributes
    ----------
    counts : tuple of int
        Values ending in 0, 1 ... 9.
    chi_square, p_value : float
        Pearson's chi-square against equal shares, 9 degrees of freedom, and its tail probability, both for
        values that were drawn in clusters where these are given.
    index : float
        Half the sum of absolute deviations from a tenth: 0 none, 0.9 a single digit. The share of values that
        would have to be read anew to even them out.
    whipple : float
        Five times the percentage ending in 0 or 5: 100 no preference, 500 only these.
    """

    counts: tuple[int, ...]
    chi_square: float
    p_value: float
    index: float
    whipple: float

    @property
    def n(self) -> int:
        """How many values were used."""
        return sum(self.counts)


def last_digits(values: ArrayLike, unit: ArrayLike) -> Ints:
    """Last digit of each number when written to the unit.

    Parameters
    ----------
    values : array_like, shape (n,)
        Numbers of 0 or more, none missing.
    unit : array_like, shape (n,) or scalar
        Unit of the last digit: 1, 0.1 ...

    Examples
    --------
    >>> last_digits([373.0, 20.5], [1.0, 0.1]).tolist()
    [3, 5]
    """
    whole = np.rint(np.asarray(values, dtype=np.float64) / np.asarray(unit, dtype=np.float64))
    return np.asarray(whole, dtype=np.int64) % _TEN


def on_step(values: ArrayLike, step: float) -> float:
    """Share of the values that are whole multiples of a step; 0 when there are none."""
    numbers = np.asarray(values, dtype=np.float64)
    if not len(numbers):
        return 0.0
    ratio = numbers / step
    tolerance = 1e-6
    return float(np.mean(np.abs(ratio - np.rint(ratio)) < tolerance))


def preference(digits: ArrayLike, cluster: ArrayLike | None = None) -> Preference:
    """Measure how unevenly last digits are used.

    Parameters
    ----------
    digits : array_like of int, shape (n,)
        Last digits, 0 to 9; at least one.
    cluster : array_like of int, shape (n,), optional
        Values of one cluster resemble each other, as siblings do, and so do their last digits: the
        chi-square is divided by the mean design effect.

    Raises
    ------
    ValueError
        There are no digits, or one is not between 0 and 9.

    References
    ----------
    Pearson's chi-square: NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.5.15.
    Index of dissimilarity from a uniform distribution (Myers' blended index rests on it), and Whipple's
    index of terminal digits 0 and 5: Shryock, H. S. & Siegel, J. S. (1976). The Methods and Materials of
    Demography. First-order correction for clusters: Rao, J. N. K. & Scott, A. J. (1981). The analysis of
    categorical data from complex sample surveys. Journal of the American Statistical Association 76, 221-230
    (formula from memory).
    """
    found = np.asarray(digits, dtype=np.int64)
    if not len(found):
        raise ValueError("there are no digits")
    if found.min() < 0 or found.max() >= _TEN:
        raise ValueError("a last digit lies between 0 and 9")
    counts = np.bincount(found, minlength=_TEN)
    expected = counts.sum() / _TEN
    chi_square = float(((counts - expected) ** 2 / expected).sum())
    share = counts / counts.sum()
    if cluster is not None:
        chi_square /= _design_effect(found, np.asarray(cluster, dtype=np.int64), share)
    return Preference(
        counts=tuple(int(count) for count in counts),
        chi_square=chi_square,
        p_value=_tail(chi_square),
        index=float(np.abs(share - 1 / _TEN).sum() / 2),
        whipple=float(_HUNDRED * _FIVE * (share[0] + share[_FIVE])),
    )


def _tail(chi_square: float) -> float:
    """Chance that chi-square with nine degrees of freedom is exceeded.

    Abramowitz, M. & Stegun, I. A. (1964). Handbook of Mathematical Functions, formula 26.4.4 (from memory; a
    test holds it against `scipy.special.chdtrc`, which takes longer to load than most seasons to audit).
    """
    root = math.sqrt(chi_square)
    term, total = root, 0.0
    for odd in range(1, _TEN - 1, 2):
        total += term
        term *= chi_square / (odd + 2)
    return math.erfc(root / math.sqrt(2)) + math.sqrt(2 / math.pi) * math.exp(-chi_square / 2) * total


def _design_effect(digits: Ints, cluster: Ints, share: Floats) -> float:
    """Say how many times as much shares of clusters vary as those of values drawn singly; at least 1."""
    _, number = np.unique(cluster, return_inverse=True)
    size = np.bincount(number)
    counts = np.zeros((len(size), _TEN))
    np.add.at(counts, (number, digits), 1.0)
    used = (share > 0) & (share < 1)
    off = ((counts - np.outer(size, share)) ** 2).sum(axis=0)[used]
    alone = len(digits) * (share * (1 - share))[used]
    return max(1.0, float(off.sum() / alone.sum())) if used.any() else 1.0

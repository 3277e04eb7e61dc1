"""Technical error of measurement: how far repeated measures of one bird lie apart."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, sqrt
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import chdtri, ndtri

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

__all__ = ["Error", "technical_error"]

_ALL = 100  # percent
#: Share of the squared values below which their scatter is nothing but rounding of the arithmetic.
_ROUNDING = 1e-24


@dataclass(frozen=True, slots=True)
class Error:
    """How far repeated measures of one bird lie apart.

    Attributes
    ----------
    value : float
        Standard deviation of single measures about the bird's mean, unit of the measure.
    low, high : float
        Ends of its exact interval; `high` is infinite where repeats never differed and so set no end.
    relative : float
        Percent of the mean; not a number where the mean is 0.
    birds, values, dof : int
        Birds measured at least twice, their values, degrees of freedom.
    mean : float
        Of all these values.
    level : float
        Of the interval.
    """

    value: float
    low: float
    high: float
    relative: float
    birds: int
    values: int
    dof: int
    mean: float
    level: float

    @property
    def largest_difference(self) -> float:
        """Difference that two measures of a bird exceed once in twenty: 1.96 sqrt(2) = 2.77 errors."""
        return float(ndtri(1 - 1 / 40)) * sqrt(2) * self.value


def technical_error(values: ArrayLike, bird: ArrayLike, level: float = 0.95) -> Error:
    """Estimate the technical error of measurement of two or more repeats, as many for each bird as there are.

    Parameters
    ----------
    values : array_like, shape (n,)
        Measures; missing ones are left out.
    bird : array_like of int, shape (n,)
        Whom (or by whom of whom) each was taken; single measures tell nothing and are left out.
    level : float
        Of the interval.

    Raises
    ------
    ValueError
        Nobody was measured twice.

    Notes
    -----
    The root of all squared deviations from the birds' own means over their degrees of freedom. With pairs
    this is sqrt(sum of d**2 / 2N), with K repeats of each of N birds
    sqrt(sum of (sum of M**2 - (sum of M)**2 / K) / (N (K - 1))). Where repeats are by two observers, the bias
    between them is in it. The interval is that of a variance by chi-square.

    References
    ----------
    Dahlberg, G. (1940). Statistical Methods for Medical and Biological Students: pairs (from memory).
    Ulijaszek, S. J. & Kerr, D. A. (1999). Anthropometric measurement error and the assessment of nutritional
    status. British Journal of Nutrition 82, 165-177: more than two (formulas from memory).

    Examples
    --------
    >>> told = technical_error([10, 11, 20, 21, 30, 29], [0, 0, 1, 1, 2, 2])
    >>> round(told.value, 3), round(told.relative, 2), told.dof, round(told.largest_difference, 2)
    (0.707, 3.51, 3, 1.96)
    """
    number = np.asarray(values, dtype=np.float64)
    known = np.isfinite(number)
    number = number[known]
    _, code, size = np.unique(np.asarray(bird)[known], return_inverse=True, return_counts=True)
    again = size[code] > 1
    number = number[again]
    if not len(number):
        raise ValueError("nobody was measured twice")
    _, code, size = np.unique(code[again], return_inverse=True, return_counts=True)
    middle = float(number.mean())
    means = np.bincount(code, weights=number - middle) / size
    squares = float(((number - middle - means[code]) ** 2).sum())
    squares = 0.0 if squares <= _ROUNDING * float((number**2).sum()) else squares
    dof = len(number) - len(size)
    tail = (1 - level) / 2
    value = sqrt(squares / dof)
    return Error(
        value=value,
        # chdtri takes the upper tail
        low=sqrt(squares / float(chdtri(dof, tail))),
        high=sqrt(squares / float(chdtri(dof, 1 - tail))) if squares else inf,
        relative=_ALL * value / abs(middle) if middle else float("nan"),
        birds=len(size),
        values=len(number),
        dof=dof,
        mean=middle,
        level=level,
    )

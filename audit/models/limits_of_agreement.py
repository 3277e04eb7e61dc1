"""How far two measures of the same birds lie apart: bias and limits of agreement."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import nctdtrit, ndtri, stdtr, stdtrit

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

__all__ = ["End", "Limits", "Slope", "limits_of_agreement", "slope_on_mean"]

_FEWEST = 3
#: Share of the differences below which their scatter is nothing but rounding of the arithmetic.
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class End:
    """A figure with its interval, unit of the measure."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Limits:
    """How far two measures of one bird lie apart: first less second.

    Attributes
    ----------
    bias, lower, upper : End
        Mean difference, and the two limits that hold `share` of the differences, each with its interval.
    sd : float
        Standard deviation of the differences.
    pairs : int
    share, level : float
        Of the differences between the limits; of the intervals.
    p_value : float
        Chance of so large a mean difference, or a larger one, without any bias.
    """

    bias: End
    lower: End
    upper: End
    sd: float
    pairs: int
    share: float
    level: float
    p_value: float


def limits_of_agreement(differences: ArrayLike, level: float = 0.95, share: float = 0.95) -> Limits:
    """Find bias and limits of agreement.

    Parameters
    ----------
    differences : array_like, shape (n,)
        First less second measure of each bird; missing ones are left out.
    level, share : float
        Of the intervals; of the differences that lie between the limits.

    Raises
    ------
    ValueError
        There are fewer than three pairs.

    Notes
    -----
    The interval of a limit is exact for normal differences, by the noncentral t distribution (Carkeet
    2015), and not symmetric: the outer end lies farther off than the inner one. The approximate one of Bland
    and Altman, t sqrt(3 s**2 / n) on both sides, is too narrow on the outside for few pairs. Where all pairs
    differ alike, limits and intervals are that one difference.

    References
    ----------
    Bland, J. M. & Altman, D. G. (1986). Statistical methods for assessing agreement between two methods of
    clinical measurement. Lancet 327, 307-310.
    Carkeet, A. (2015). Exact parametric confidence intervals for Bland-Altman limits of agreement. Optometry
    and Vision Science 92, e71-e80 (from memory; the cover is tested).

    Examples
    --------
    >>> told = limits_of_agreement([1.0, 2.0, 0.0, 1.0, 1.0])
    >>> told.bias.value, round(told.lower.value, 2), round(told.upper.value, 2)
    (1.0, -0.39, 2.39)
    """
    d = np.asarray(differences, dtype=np.float64)
    d = d[np.isfinite(d)]
    n = len(d)
    if n < _FEWEST:
        raise ValueError("fewer than three pairs say nothing of limits")
    mean, sd = float(d.mean()), float(d.std(ddof=1))
    sd = 0.0 if sd <= _ROUNDING * float(np.abs(d).max()) else sd
    error = sd / sqrt(n)
    t = float(stdtrit(n - 1, (1 + level) / 2))
    z = float(ndtri((1 + share) / 2))
    tail = (1 - level) / 2
    inner, outer = (float(nctdtrit(n - 1, z * sqrt(n), part)) * error for part in (tail, 1 - tail))
    return Limits(
        bias=End(mean, mean - t * error, mean + t * error),
        lower=End(mean - z * sd, mean - outer, mean - inner),
        upper=End(mean + z * sd, mean + inner, mean + outer),
        sd=sd,
        pairs=n,
        share=share,
        level=level,
        p_value=_two_sided(mean, error, n - 1),
    )


@dataclass(frozen=True, slots=True)
class Slope:
    """How differences change with size.

    Attributes
    ----------
    value, low, high : float
        Unit of difference per unit of size, with its interval.
    p_value : float
        Chance of so steep a slope, or a steeper one, without any.
    """

    value: float
    low: float
    high: float
    p_value: float


def slope_on_mean(first: ArrayLike, second: ArrayLike, level: float = 0.95) -> Slope | None:
    """Regress the differences of pairs on their means: does one read longer the longer the bird is.

    Parameters
    ----------
    first, second : array_like, shape (n,)
        The two measures of each bird; pairs with a missing one are left out.
    level : float
        Of the interval.

    Returns
    -------
    Slope or None
        None for fewer than three pairs, or where all means are equal.

    Notes
    -----
    A slope also comes about where one of the two scatters more than the other: it says that they differ in
    scale or in scatter (Pitman 1939, Biometrika 31, 9-12; from memory); a look at the picture tells which.

    References
    ----------
    Bland, J. M. & Altman, D. G. (1999). Measuring agreement in method comparison studies. Statistical
    Methods in Medical Research 8, 135-160.
    """
    one, other = (np.asarray(part, dtype=np.float64) for part in (first, second))
    both = np.isfinite(one) & np.isfinite(other)
    d, m = (one - other)[both], (one + other)[both] / 2
    n = len(d)
    across = m - m.mean() if n else m
    spread = float(across @ across)
    if n < _FEWEST or not spread:
        return None
    value = float(across @ (d - d.mean())) / spread
    left = d - d.mean() - value * across
    error = sqrt(max(float(left @ left), 0.0) / (n - 2) / spread)
    reach = float(stdtrit(n - 2, (1 + level) / 2)) * error
    return Slope(value, value - reach, value + reach, _two_sided(value, error, n - 2))


def _two_sided(value: float, error: float, dof: int) -> float:
    if not error:
        return 0.0 if value else 1.0
    return 2 * float(stdtr(dof, -abs(value) / error))

"""Repeatability: the share of the variance of repeated measures that lies between birds."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, inf, isfinite
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import brentq
from scipy.special import fdtrc, fdtri

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Repeatability", "repeatability", "repeats_for", "repeats_for_error"]

#: Share of the squared values below which a variance is nothing but rounding of the arithmetic.
_ROUNDING = 1e-24


@dataclass(frozen=True, slots=True)
class Repeatability:
    """How much of the variance of repeated measures lies between birds.

    Attributes
    ----------
    value : float
        Intraclass correlation, 1 where repeats never differ. Below 0 where repeats of one bird differ more
        than birds do: then nothing of it is seen, and it stands for 0.
    low, high : float
        Ends of the exact interval.
    between, within : float
        Variances between birds (not below 0) and of repeats within a bird, squared unit of the measure.
    mean_square_between, mean_square_within : float
        Of the analysis of variance.
    n0 : float
        Repeats of a bird, in the mean that the analysis needs.
    birds, values : int
        Birds measured at least twice, and their values.
    mean : float
        Of all these values.
    p_value : float
        Chance of such a ratio of mean squares, or a larger one, if birds did not differ at all.
    level : float
        Of the interval.
    """

    value: float
    low: float
    high: float
    between: float
    within: float
    mean_square_between: float
    mean_square_within: float
    n0: float
    birds: int
    values: int
    mean: float
    p_value: float
    level: float

    @property
    def within_dof(self) -> int:
        """Degrees of freedom within birds."""
        return self.values - self.birds


def repeatability(values: ArrayLike, bird: ArrayLike, level: float = 0.95) -> Repeatability:
    """Estimate repeatability from a one-way analysis of variance.

    Parameters
    ----------
    values : array_like, shape (n,)
        Measures; missing ones are left out.
    bird : array_like of int, shape (n,)
        Whom each was taken of. Birds with one measure tell nothing of error and are left out: the figures
        are those of the birds measured again.
    level : float
        Of the interval.

    Raises
    ------
    ValueError
        Fewer than two birds were measured twice, or all values are equal.

    Notes
    -----
    With mean squares A between birds and W within them, the variance between is (A - W) / n0 and
    repeatability its share of the total; n0 = (N - sum of n_i**2 / N) / (a - 1) for a birds with n_i values.
    The interval is exact for unequal numbers of repeats, too: for a ratio r of the two variances,
    sum of w_i (m_i - m)**2 / (a - 1) / W with w_i = n_i / (1 + n_i r) and m the mean of the m_i by these
    weights follows F with a - 1 and N - a degrees of freedom, and the ends are the r at which it equals the
    quantiles. With equal numbers this is the usual interval from F.

    References
    ----------
    Lessells, C. M. & Boag, P. T. (1987). Unrepeatable repeatabilities: a common mistake. Auk 104, 116-121.
    Wald, A. (1940). A note on the analysis of variance with unequal class frequencies. Annals of
    Mathematical Statistics 11, 96-100: the interval (formula from memory; its cover is tested).

    Examples
    --------
    >>> told = repeatability([10, 11, 20, 21, 30, 29], [0, 0, 1, 1, 2, 2])
    >>> round(told.value, 3), round(told.low, 3), told.within
    (0.994, 0.915, 0.5)
    """
    number, code = _measured_again(values, bird)
    size = np.bincount(code).astype(np.float64)
    a, total = len(size), len(number)
    middle = float(number.mean())
    means = np.bincount(code, weights=number - middle) / size
    within_sum = float(((number - middle - means[code]) ** 2).sum())
    between_sum = float((size * means**2).sum())
    nothing = _ROUNDING * float((number**2).sum())
    if within_sum + between_sum <= nothing:
        raise ValueError("all values are equal: there is no variance that could be shared out")
    within_square = 0.0 if within_sum <= nothing else within_sum / (total - a)
    between_square = between_sum / (a - 1)
    n0 = (total - float((size**2).sum()) / total) / (a - 1)
    between = (between_square - within_square) / n0
    low, high = 1.0, 1.0
    if within_square:
        tail = (1 - level) / 2
        low, high = (
            _at_ratio(size, means, within_square, float(fdtri(a - 1, total - a, part)))
            for part in (1 - tail, tail)
        )
    ratio = between_square / within_square if within_square else inf
    return Repeatability(
        value=between / (between + within_square),
        low=low,
        high=high,
        between=max(between, 0.0),
        within=within_square,
        mean_square_between=between_square,
        mean_square_within=within_square,
        n0=n0,
        birds=a,
        values=total,
        mean=middle,
        p_value=float(fdtrc(a - 1, total - a, ratio)) if isfinite(ratio) else 0.0,
        level=level,
    )


def _measured_again(values: ArrayLike, bird: ArrayLike) -> tuple[Floats, Ints]:
    number = np.asarray(values, dtype=np.float64)
    group = np.asarray(bird)
    known = np.isfinite(number)
    number, group = number[known], group[known]
    _, code, size = np.unique(group, return_inverse=True, return_counts=True)
    again = size[code] > 1
    number, group = number[again], group[again]
    birds, code = np.unique(group, return_inverse=True)
    if len(birds) <= 1:
        raise ValueError("two birds or more must have been measured twice")
    return number, np.asarray(code, dtype=np.int64)


def _at_ratio(size: Floats, means: Floats, within: float, wanted: float) -> float:
    """Find the repeatability at which the weighted ratio of variances equals a quantile."""

    def above(value: float) -> float:
        # weights of n / (1 + n r) with r = value / (1 - value), without dividing by 0 at either end
        weight = size * (1 - value) / (1 - value + size * value)
        middle = float(weight @ means / weight.sum())
        return float(weight @ (means - middle) ** 2) / (len(size) - 1) / within - wanted

    edge = 1e-12
    # no repeatability lies below this one: the variance of a mean of the most repeats would be below 0
    least = -1 / (size.max() - 1) + edge
    if above(1 - edge) >= 0:
        return 1.0
    return float(brentq(above, least, 1 - edge, xtol=1e-12)) if above(least) > 0 else float(least - edge)


def repeats_for(single: float, wanted: float) -> int | None:
    """Say how many measures of a bird must be averaged for a wanted repeatability of their mean.

    Parameters
    ----------
    single, wanted : float
        Repeatability of one measure, and of the mean; the latter between 0 and 1.

    Returns
    -------
    int or None
        None where no number of repeats is enough, since single measures have no repeatability.

    References
    ----------
    Spearman, C. (1910) and Brown, W. (1910), British Journal of Psychology 3, 271-295 and 296-322: the mean
    of k measures has repeatability k r / (1 + (k - 1) r).

    Examples
    --------
    >>> repeats_for(0.8, 0.95), repeats_for(0.97, 0.95), repeats_for(-0.1, 0.95)
    (5, 1, None)
    """
    if not 0 < wanted < 1:
        raise ValueError(f"{wanted} is no repeatability that repeats could reach")
    if single <= 0:
        return None
    return max(1, _up(wanted * (1 - single) / (single * (1 - wanted))))


def repeats_for_error(error: float, wanted: float) -> int:
    """Say how many measures of a bird must be averaged for a wanted standard error of their mean.

    Parameters
    ----------
    error : float
        Standard deviation of single measures of one bird.
    wanted : float
        In the same unit, above 0.

    Notes
    -----
    A bias of the observer stays, however often the same person measures.

    Examples
    --------
    >>> repeats_for_error(1.8, 1.0), repeats_for_error(0.4, 1.0)
    (4, 1)
    """
    if wanted <= 0:
        raise ValueError(f"{wanted} is no error that repeats could reach")
    return max(1, _up((error / wanted) ** 2))


def _up(number: float) -> int:
    """Round up, but not for the rounding of the arithmetic."""
    return ceil(number - 1e-9)

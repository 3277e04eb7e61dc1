"""Variance components of grouped measures, robust and shrunk to what is known beforehand.

Everything here is a closed form: it has an answer for any data, also for one value or none.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import erf, exp, inf, isinf, pi, sqrt
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["OneWay", "Prior", "centre", "median", "one_way", "robust_sd", "shrunk"]


@dataclass(frozen=True, slots=True)
class OneWay:
    """Spread of a measure between groups and within them.

    Attributes
    ----------
    mean : float
        Mean of the group means; nothing known: 0.
    between, within : float
        Variances of group effects and of members about their group.
    between_dof, within_dof : float
        Contrasts that they rest on; 0 where nothing is known.
    """

    mean: float
    between: float
    within: float
    between_dof: float
    within_dof: float


@dataclass(frozen=True, slots=True)
class Prior:
    """A variance known beforehand, worth so many contrasts."""

    variance: float
    dof: float


def shrunk(variance: float, dof: float, prior: Prior) -> float:
    """Draw a variance towards the one known beforehand, as far as few contrasts leave it open.

    Parameters
    ----------
    variance, dof : float
        Found, and the contrasts it rests on.
    prior : Prior

    Returns
    -------
    float

    References
    ----------
    Mean of the variances weighted by their degrees of freedom: conjugate scaled inverse chi-square prior
    (Smyth 2004, Statistical Applications in Genetics and Molecular Biology 3(1), 3).

    Examples
    --------
    >>> shrunk(4.0, 10, Prior(1.0, 10))
    2.5
    """
    return (dof * variance + prior.dof * prior.variance) / (dof + prior.dof) if dof > 0 else prior.variance


def robust_sd(values: ArrayLike) -> float:
    """Give the standard deviation about 0 of a normal sample by the median of its distances; 0 for none.

    References
    ----------
    Hampel, F. R. (1974). Journal of the American Statistical Association 69, 383-393: the median absolute
    deviation, here about 0, times 1.4826.
    """
    known = np.asarray(values, dtype=np.float64)
    known = known[np.isfinite(known)]
    # the upper quartile of a standard normal
    quartile = 0.6744897501960817
    return median(np.abs(known)) / quartile if len(known) else 0.0


def median(values: Floats) -> float:
    """Middle of some values, none of which is missing; of an even number the mean of the two in the middle.

    Examples
    --------
    >>> import numpy as np
    >>> median(np.array([3.0, 1.0, 2.0])), median(np.array([4.0, 1.0, 2.0, 3.0]))
    (2.0, 2.5)
    """
    # of few values a tenth of the time that numpy takes, which looks for missing ones first
    ordered = np.sort(values)
    upper = len(ordered) // 2
    return float(ordered[upper] if len(ordered) % 2 else (ordered[upper - 1] + ordered[upper]) / 2)


def centre(values: ArrayLike, prior: float, prior_weight: float) -> float:
    """Median drawn towards a value known beforehand, which counts for so many values."""
    known = np.asarray(values, dtype=np.float64)
    known = known[np.isfinite(known)]
    if not len(known):
        return prior
    # a median is pi/2 times as variable as a mean
    weight = len(known) / (pi / 2)
    return float((weight * median(known) + prior_weight * prior) / (weight + prior_weight))


def one_way(
    values: ArrayLike,
    group: ArrayLike,
    *,
    clip: float = inf,
    between: Prior | None = None,
    within: Prior | None = None,
) -> OneWay:
    """Split the variance of a measure into that between groups and that within them.

    Parameters
    ----------
    values : array_like, shape (n,)
        Missing values are left out.
    group : array_like of int, shape (n,)
    clip : float
        Members further than so many standard deviations from their group's median, and groups as far from
        the median group, count as though they were at that distance. Without a clip this is the plain
        analysis of variance.
    between, within : Prior, optional
        Variances known beforehand: few values are cut by these rather than by their own.

    Returns
    -------
    OneWay
        What was found, not drawn towards the priors.

    References
    ----------
    Moment estimators of the one-way random model, unequal groups: Searle, Casella & McCulloch (1992),
    Variance Components, Wiley, section 3.6; for equal groups they are the REML estimates. Winsorised first
    (Tukey 1962, Annals of Mathematical Statistics 33, 1-67) and set right for the normal distribution.
    """
    y = np.asarray(values, dtype=np.float64)
    known = np.isfinite(y)
    y = y[known]
    if not len(y):
        return OneWay(0.0, 0.0, 0.0, 0.0, 0.0)
    _, code = np.unique(np.asarray(group)[known], return_inverse=True)
    n = np.bincount(code).astype(np.float64)
    right = 1.0
    if not isinf(clip):
        y = _winsorised(y, code, clip, between, within)
        right = _kept_variance(clip)
    total, groups = n.sum(), len(n)
    means = np.bincount(code, weights=y) / n
    within_dof = float(total - groups)
    within_ss = float(((y - means[code]) ** 2).sum())
    inside = within_ss / within_dof / right if within_dof > 0 else 0.0
    if groups == 1:
        return OneWay(float(means[0]), 0.0, inside, 0.0, within_dof)
    grand = float((n * means).sum() / total)
    usual_size = float(total - (n**2).sum() / total) / (groups - 1)
    mean_square = float((n * (means - grand) ** 2).sum()) / (groups - 1) / right
    apart = max(0.0, (mean_square - inside) / usual_size)
    return OneWay(grand, apart, inside, float(groups - 1), within_dof)


def _winsorised(y: Floats, code: Ints, clip: float, between: Prior | None, within: Prior | None) -> Floats:
    order = np.lexsort((y, code))
    # they are numbered from nought on, and none is empty
    sizes = np.bincount(code)
    starts = np.cumsum(sizes) - sizes
    ranked = y[order]
    medians = (ranked[starts + (sizes - 1) // 2] + ranked[starts + sizes // 2]) / 2
    size = sizes[code].astype(np.float64)
    off = y - medians[code]
    # the middle one of an odd number is no distance at all, and two are as far as they can be from each other
    itself = np.zeros(len(y), dtype=bool)
    itself[order[starts + sizes // 2]] = sizes % 2 == 1
    freed = (off * np.sqrt(size / np.maximum(size - 1, 1)))[~itself]
    inside = clip * _usual(robust_sd(freed), len(y) - len(starts), within)
    kept = np.clip(off, -inside, inside) if len(freed) else off
    middle = median(medians)
    around = clip * _usual(robust_sd(medians - middle), len(starts) - 1, between)
    if len(starts) > 1:
        medians = middle + np.clip(medians - middle, -around, around)
    result: Floats = medians[code] + kept
    return result


def _usual(sd: float, dof: float, prior: Prior | None) -> float:
    """Spread by which to cut: between the one found and the one known, in proportion, lest it run away."""
    if prior is None or prior.variance <= 0:
        return sd
    known = sqrt(prior.variance)
    if dof <= 0 or sd <= 0:
        return known
    return float(known * (sd / known) ** (dof / (dof + prior.dof)))


def _kept_variance(clip: float) -> float:
    """Variance of a standard normal that is cut off at `clip`."""
    below = (1 + erf(clip / sqrt(2))) / 2
    density = exp(-clip * clip / 2) / sqrt(2 * pi)
    return (2 * below - 1) - 2 * clip * density + 2 * clip * clip * (1 - below)

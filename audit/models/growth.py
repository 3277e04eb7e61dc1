"""Growth of nestlings: mean and spread of a measure at an age, the age of a wing, the mass for a wing.

Ages are days since hatching, lengths millimetres, masses grams, throughout.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from audit.models.effects import median

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Numbers = NDArray[np.float64]

__all__ = [
    "Curve",
    "Factor",
    "MassForWing",
    "Recession",
    "Spread",
    "age_of",
    "age_sd",
    "group_medians",
    "mass_for_wing",
    "mean",
    "pace",
    "population_factor",
    "spread",
]

Model = Literal["logistic", "gompertz", "offset_gompertz", "table"]
SpreadForm = Literal["saturating", "ramp", "table", "share"]


@dataclass(frozen=True, slots=True)
class Recession:
    """Loss of mass before fledging, a factor ``1 - share / (1 + exp(-(t - day) / scale))``."""

    share: float
    day: float
    scale: float


@dataclass(frozen=True, slots=True)
class Spread:
    """Standard deviation of a measure among birds of one age.

    Attributes
    ----------
    form : {'saturating', 'ramp', 'table', 'share'}
        ``start + rise * (1 - exp(-t / scale))``; ``min(start + slope * t, cap)``; straight lines between
        `values` at `days`; the same as a share of the mean.
    """

    form: SpreadForm
    start: float = 0.0
    rise: float = 0.0
    scale: float = 1.0
    slope: float = 0.0
    cap: float = np.inf
    days: tuple[float, ...] = ()
    values: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Curve:
    """Growth of one measure in one species.

    Attributes
    ----------
    model : {'logistic', 'gompertz', 'offset_gompertz', 'table'}
        Shape of the mean.
    asymptote, rate, inflection, offset : float
        In the unit of the measure, per day, days, in the unit of the measure.
    days, values : tuple of float
        Points of a ``table``.
    first_day, last_day : float
        Ages for which the curve holds; outside them it says nothing.
    """

    model: Model
    spread: Spread
    first_day: float
    last_day: float
    asymptote: float = np.nan
    rate: float = np.nan
    inflection: float = np.nan
    offset: float = 0.0
    recession: Recession | None = None
    days: tuple[float, ...] = ()
    values: tuple[float, ...] = ()


def mean(curve: Curve, age: ArrayLike) -> Numbers:
    """Mean of the measure at an age.

    Parameters
    ----------
    curve : Curve
    age : array_like
        Days since hatching, any shape.

    Returns
    -------
    numpy.ndarray
        In the unit of the curve, shape of `age`; beyond the valid ages it is an extrapolation.

    References
    ----------
    Ricklefs, R. E. (1967). A graphical method of fitting equations to growth curves. Ecology 48, 978-983.
    """
    t = np.asarray(age, dtype=np.float64)
    if curve.model == "table":
        return np.interp(t, curve.days, curve.values)
    if curve.model == "logistic":
        grown = curve.asymptote / (1 + np.exp(-curve.rate * (t - curve.inflection)))
    else:
        # a plain Gompertz curve is one whose offset is nothing
        grown = curve.offset + (curve.asymptote - curve.offset) * np.exp(
            -np.exp(-curve.rate * (t - curve.inflection))
        )
    if curve.recession is not None:
        lost = curve.recession
        grown = grown * (1 - lost.share / (1 + np.exp(-(t - lost.day) / lost.scale)))
    return np.asarray(grown, dtype=np.float64)


def spread(curve: Curve, age: ArrayLike) -> Numbers:
    """Give the standard deviation of the measure among birds of one age.

    Parameters
    ----------
    curve : Curve
    age : array_like
        Days since hatching, any shape.

    Returns
    -------
    numpy.ndarray
        In the unit of the curve, shape of `age`.
    """
    t = np.asarray(age, dtype=np.float64)
    wide = curve.spread
    if wide.form == "saturating":
        result = wide.start + wide.rise * (1 - np.exp(-t / wide.scale))
    elif wide.form == "ramp":
        result = np.minimum(wide.start + wide.slope * t, wide.cap)
    else:
        result = np.interp(t, wide.days, wide.values)
        if wide.form == "share":
            result = result * mean(curve, t)
    return np.asarray(result, dtype=np.float64)


def pace(curve: Curve, age: ArrayLike) -> Numbers:
    """Growth per day at an age: the slope of the mean over the day around it."""
    t = np.asarray(age, dtype=np.float64)
    half_day = 1 / 2
    return mean(curve, t + half_day) - mean(curve, t - half_day)


def age_of(curve: Curve, value: ArrayLike) -> Numbers:
    """Age at which the mean reaches a value.

    Parameters
    ----------
    curve : Curve
        Without recession, so that it rises throughout.
    value : array_like
        In the unit of the curve, any shape.

    Returns
    -------
    numpy.ndarray
        Days since hatching, kept within the valid ages; missing where `value` is missing.

    Raises
    ------
    ValueError
        The curve falls again, so that a value has two ages.
    """
    if curve.recession is not None:
        raise ValueError("a curve with a recession has two ages for one value")
    size = np.asarray(value, dtype=np.float64)
    if curve.model == "table":
        if np.any(np.diff(curve.values) <= 0):
            raise ValueError("a table that does not rise has two ages for one value")
        return np.where(np.isnan(size), np.nan, np.interp(size, curve.values, curve.days))
    low, high = (float(mean(curve, day)) for day in (curve.first_day, curve.last_day))
    inside = np.clip(size, low, high)
    if curve.model == "logistic":
        age = curve.inflection - np.log(curve.asymptote / inside - 1) / curve.rate
    else:
        share = (inside - curve.offset) / (curve.asymptote - curve.offset)
        age = curve.inflection - np.log(-np.log(share)) / curve.rate
    return np.asarray(np.clip(age, curve.first_day, curve.last_day), dtype=np.float64)


def age_sd(curve: Curve, age: ArrayLike) -> Numbers:
    """Give the standard deviation, in days, of an age read off the curve: spread over pace."""
    return spread(curve, age) / pace(curve, age)


@dataclass(frozen=True, slots=True)
class MassForWing:
    """Mass to expect of a nestling with a given wing.

    Attributes
    ----------
    age, mean, sd : numpy.ndarray
        Age of the wing in days; mass in grams and its standard deviation.
    """

    age: Numbers
    mean: Numbers
    sd: Numbers


def mass_for_wing(mass: Curve, wing: Curve, length: ArrayLike) -> MassForWing:
    """Mass to expect of a nestling with a given wing.

    The wing gives an age, and the age a mass; a wing that runs ahead of or behind its age widens the spread
    by as much as mass grows in that time.

    Parameters
    ----------
    mass, wing : Curve
        Grams and millimetres.
    length : array_like
        Wing in millimetres, any shape.

    References
    ----------
    Propagation of error to first order, Var(f(t)) = f'(t)**2 Var(t).
    """
    age = age_of(wing, length)
    carried = pace(mass, age) * age_sd(wing, age)
    return MassForWing(age, mean(mass, age), np.hypot(spread(mass, age), carried))


@dataclass(frozen=True, slots=True)
class Factor:
    """How many times heavier (or longer) a season's birds are than the curve says.

    Attributes
    ----------
    value : float
        Multiplies the curve; 1 when nothing is known.
    sd : float
        Standard deviation of its logarithm.
    groups : int
        Broods (or birds) that it rests on.
    """

    value: float
    sd: float
    groups: int


def population_factor(
    log_ratio: ArrayLike, group: ArrayLike, *, prior_sd: float, group_sd: float, clip: float
) -> Factor:
    """Estimate a season's own factor, drawn towards 1 as far as few broods leave it open.

    Parameters
    ----------
    log_ratio : array_like, shape (n,)
        Logarithm of measured over expected; missing values are left out.
    group : array_like of int, shape (n,)
        Brood or visit of each bird: siblings share their luck, so a brood counts once.
    prior_sd : float
        Standard deviation of the log factor among populations.
    group_sd : float
        Standard deviation of a brood's median about its population, in the logarithm.
    clip : float
        A brood further from 1 than this many standard deviations counts no more than one at this distance.

    Returns
    -------
    Factor

    References
    ----------
    Posterior mean of a normal mean with a normal prior; the median of brood medians stands in for the mean,
    so that wrong cells do not pull it, at the price of pi/2 in variance.
    """
    ratio = np.asarray(log_ratio, dtype=np.float64)
    code = np.asarray(group)
    known = np.isfinite(ratio)
    if not known.any():
        return Factor(1.0, prior_sd, 0)
    bound = clip * np.hypot(prior_sd, group_sd)
    medians = np.clip(group_medians(ratio[known], code[known]), -bound, bound)
    n = len(medians)
    noise = group_sd**2 * np.pi / 2 / n
    trust = prior_sd**2 / (prior_sd**2 + noise)
    return Factor(float(np.exp(trust * median(medians))), float(np.sqrt(trust * noise)), n)


def group_medians(values: Numbers, code: NDArray[np.generic]) -> Numbers:
    """Median of each group, in order of the groups' numbers."""
    if not len(values):
        return np.array([], dtype=np.float64)
    order = np.lexsort((values, code))
    sorted_code, sorted_values = code[order], values[order]
    ends = np.flatnonzero(sorted_code[1:] != sorted_code[:-1]) + 1
    bounds = np.concatenate(([0], ends, [len(order)]))
    starts, sizes = bounds[:-1], bounds[1:] - bounds[:-1]
    middle = starts + (sizes - 1) // 2
    upper = starts + sizes // 2
    return np.asarray((sorted_values[middle] + sorted_values[upper]) / 2, dtype=np.float64)

"""How measures scatter about what is expected: numbers shared by all species, and the shapes of densities."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.rules.birds import growth_limit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.rules.case import Case

    Floats = NDArray[np.float64]

__all__ = ["Grain", "log_between", "log_normal", "log_runty", "log_sum", "log_tailed"]

_LOG_ROOT_TAU = float(np.log(np.sqrt(2 * np.pi)))


@dataclass(frozen=True, slots=True)
class Grain:
    """How measures scatter about what is expected: numbers shared by all species.

    Attributes
    ----------
    runt_share, runt_centre, runt_sd : float
        Nestlings that starve: share of birds, and their place and spread in standard deviations of mass.
    tail_share, tail_width : float
        Share of wings and of adult measures that scatter more widely, and how many times more.
    track_tail_share, track_tail_width : float
        The same for wings about the bird's own track.
    top_share, top_width : float
        The same for masses.
    clip : float
        A value further off than this many standard deviations counts no more than one at this distance.
    odd : float
        A value further off than this many standard deviations is not heeded for other birds.
    trust_siblings, trust_own, trust_wings, trust_lonely : float
        Share of siblings, and of the bird's other visits, that can be relied on for the age; of siblings for
        wings of species without a curve; of birds without company whose age is that of the season's others.
    day_step : float
        Ages are tried in steps of so many days.
    margin : float
        A nestling may be so many times as heavy as the top of its curve.
    wing_own_share : float
        Spread of wings about the bird's own track, in spreads of wings at one age, where none is declared.
    wing_visit_share : float
        Share of that variance which the birds of one visit have in common.
    mass_brood, mass_visit, mass_bird, mass_noise : float
        Shares of the variance of mass given wing: of a brood, of its visit, of a bird, and what is left.
    age_between_sd, age_within_sd : float
        Spread of ages between broods at their first visit, and within them, days.
    log_between_sd, wing_like_sd, mass_like_sd, log_bird_share : float
        For species without a wing curve: spread of logarithms between visits and within them; share of the
        latter which stays with the bird.
    enough : float
        Such a mass is told by the season's own others once they foretell its logarithm to within this.
    prior_worth, between_worth, log_worth : float
        Contrasts that a declared spread within groups, or between them, or of logarithms is worth.
    mass_factor_sd, mass_brood_sd, wing_factor_sd, wing_bird_sd : float
        Spread of the logarithm among populations, and among broods or birds of one population.
    slip, ring_slip, ring_slip_same_tag, ring_slip_other_tag : float
        How often a cell is wrong, and how often a ring is: without tags, with the same or with another tag.
    most : float
        A brood with more handlings is taken apart.
    least_share : float
        No part of a variance is less than this share of the whole.
    factors_tried : float
        Factors of the season's wings that are tried.
    """

    runt_share: float
    runt_centre: float
    runt_sd: float
    tail_share: float
    tail_width: float
    track_tail_share: float
    track_tail_width: float
    top_share: float
    top_width: float
    clip: float
    odd: float
    trust_siblings: float
    trust_own: float
    trust_wings: float
    trust_lonely: float
    day_step: float
    margin: float
    wing_own_share: float
    wing_visit_share: float
    mass_brood: float
    mass_visit: float
    mass_bird: float
    mass_noise: float
    age_between_sd: float
    age_within_sd: float
    log_between_sd: float
    wing_like_sd: float
    mass_like_sd: float
    log_bird_share: float
    enough: float
    prior_worth: float
    between_worth: float
    log_worth: float
    mass_factor_sd: float
    mass_brood_sd: float
    wing_factor_sd: float
    wing_bird_sd: float
    slip: float
    ring_slip: float
    ring_slip_same_tag: float
    ring_slip_other_tag: float
    most: float
    least_share: float
    factors_tried: float

    @classmethod
    def from_case(cls, case: Case) -> Grain:
        """Read the numbers from the growth declaration."""
        return cls(**{name: float(growth_limit(case, name)) for name in cls.__dataclass_fields__})


def log_normal(z: Floats) -> Floats:
    """Log density of a standard normal."""
    return -z * z / 2 - _LOG_ROOT_TAU


def log_tailed(z: Floats, share: float, width: float) -> Floats:
    """Log density of a normal with a share that scatters more widely."""
    square = z * z
    # the wide part stands in front, so that one exponential and one logarithm do
    core = np.exp(square * (-(1 - 1 / width**2) / 2))
    core *= 1 - share
    core += share / width
    # what is large enough to be worked out in place need not be moved about
    result: Floats = square / -(2 * width * width)
    result += np.log(core)
    result -= _LOG_ROOT_TAU
    return result


def log_runty(z: Floats, shift: Floats, left: Floats, grain: Grain) -> Floats:
    """Log density of a deviation of mass, with a share of starving young, who are light; none is as heavy.

    Parameters
    ----------
    z : numpy.ndarray
        Deviations in declared spreads.
    shift, left : numpy.ndarray
        What is foretold of them. Starving young lie as low as the population's, whatever is foretold.
    """
    near = (z - shift) / left
    usual = log_tailed(near, grain.top_share, grain.top_width)
    usual += np.log1p(-grain.runt_share)
    usual -= np.log(left)
    # a starving bird of a light brood is lighter still
    off = (z - np.minimum(shift, 0.0) - grain.runt_centre) / grain.runt_sd
    runt = np.log(grain.runt_share / grain.runt_sd) + log_normal(off)
    apart = np.exp(-np.abs(usual - runt))
    result: Floats = np.maximum(usual, runt)
    result += np.log1p(apart)
    return result


def log_between(value: Floats, low: float, high: float, soft: float) -> Floats:
    """Log density of a value that may be anything between two bounds, fading beyond them."""
    beyond: Floats = np.maximum(np.maximum(low - value, value - high), 0.0) / soft
    faded: Floats = -np.log(high - low + soft) - beyond * beyond / 2
    return faded


def log_sum(values: Floats) -> Floats:
    """Logarithm of the sum of exponentials along each row."""
    top = values.max(axis=1)
    shares = values - top[:, None]
    np.exp(shares, out=shares)
    return np.asarray(top + np.log(shares.sum(axis=1)), dtype=np.float64)

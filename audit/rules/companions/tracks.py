"""Wings as ages."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models import growth
from audit.rules.companions.by_group import medians_beside

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.declarations.species import Species
    from audit.models.growth import Curve
    from audit.models.kinship import Kin
    from audit.rules.scatter import Grain

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

__all__ = ["Track", "best_age", "follows_wings", "longest_wing", "track_of"]


def follows_wings(species: Species) -> bool:
    """Whether the curve of wings covers enough of a nestling's life to tell ages."""
    curve = species.curves.get("wing_mm")
    oldest = species.number("nestling.oldest_day")
    if curve is None or "mass_g" not in species.curves:
        return False
    return oldest is None or curve.last_day - curve.first_day > oldest / 2


def longest_wing(species: Species) -> float:
    """No wing is longer than this, whatever the bird."""
    adult, curve = species.adult.get(("", "wing_mm")), species.curves.get("wing_mm")
    if adult is not None:
        return adult.high + 2 * adult.sd
    return np.inf if curve is None else float(growth.mean(curve, curve.last_day)) * 2


@dataclass(frozen=True, slots=True)
class Track:
    """Wings as ages, shape (n,).

    Attributes
    ----------
    age, hatched : numpy.ndarray
        Age that the wing tells; the same at the first visit to the brood.
    since : numpy.ndarray
        Days from that visit.
    pace : numpy.ndarray
        Millimetres a day at that age.
    room : numpy.ndarray
        How widely wings scatter at that age, as a share of the widest.
    """

    age: Floats
    hatched: Floats
    since: Floats
    pace: Floats
    room: Floats


def track_of(
    species: Species, grain: Grain, factor: float, kin: Kin, wing: Floats, day: Floats, usual: float
) -> Track:
    """Read ages off wings; where a wing tells none, those of the same visit tell how fast it grows."""
    curve: Curve = species.curves["wing_mm"]
    _, code = np.unique(kin.brood, return_inverse=True)
    first = np.full(int(code.max(initial=-1)) + 1, np.inf)
    np.minimum.at(first, code, day)
    since = day - first[code]
    age = growth.age_of(curve, wing / factor)
    # a wild wing must not tell the pace
    middle = np.where(np.isfinite(age), age, np.nan)
    by_visit = medians_beside(middle, kin.visit)
    by_visit = np.where(np.isfinite(by_visit), by_visit, usual + since)
    reach = grain.age_between_sd
    near = np.clip(np.where(np.isfinite(age), age, by_visit), by_visit - reach, by_visit + reach)
    near = np.clip(near, curve.first_day, curve.last_day)
    widest = float(growth.spread(curve, curve.last_day))
    # a wing that hardly grows any more tells hardly any age
    slowest = float(growth.pace(curve, curve.last_day))
    pace = np.maximum(growth.pace(curve, near), slowest) * factor
    return Track(age, age - since, since, pace, growth.spread(curve, near) / widest)


def best_age(
    track: Track, foretold: Floats, foretold_sd: Floats, noise: Floats, odd: float
) -> tuple[Floats, Floats, Flags]:
    """Age by own wing and company, its standard deviation, and whether the wing suits the company.

    Where it does not, the age is that by company alone.
    """
    own = noise / track.pace**2
    off = track.age - foretold
    both = foretold_sd**2 + own
    suits = np.isfinite(off) & (off**2 < odd**2 * both)
    age = np.where(suits, foretold + np.where(suits, off, 0.0) * foretold_sd**2 / both, foretold)
    sd = np.where(suits, np.sqrt(foretold_sd**2 * own / both), foretold_sd)
    return age, sd, suits

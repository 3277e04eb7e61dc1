"""What wings tell of ages, and what logarithms tell of each other, for the nestlings of one species."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.kinship import Shares, foretell
from audit.rules.companions.deviations import gain_by_visit, scatter_by_visit
from audit.rules.companions.siblings import ages_of_siblings, young_in_brood
from audit.rules.companions.tracks import best_age, track_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.declarations.species import Species
    from audit.models.effects import OneWay
    from audit.models.kinship import Kin
    from audit.rules.companions.season_effects import Effects
    from audit.rules.scatter import Grain

    Floats = NDArray[np.float64]

__all__ = ["Logs", "WingAges", "logs_of", "wing_ages"]


@dataclass(frozen=True, slots=True)
class WingAges:
    """What wings tell of the ages of nestlings, days, shape (n,).

    Attributes
    ----------
    foretold, foretold_sd : numpy.ndarray
        Age that all others foretell.
    youngest, oldest : numpy.ndarray
        Of the siblings that day.
    age, age_sd : numpy.ndarray
        Age by own wing and company.
    """

    foretold: Floats
    foretold_sd: Floats
    youngest: Floats
    oldest: Floats
    age: Floats
    age_sd: Floats


@dataclass(frozen=True, slots=True)
class Logs:
    """Mean and standard deviation foretold of the logarithm of a measure, shape (n,)."""

    mean: Floats
    sd: Floats


def wing_ages(
    species: Species, grain: Grain, known: Effects, kin: Kin, wing: Floats, day: Floats
) -> WingAges:
    """Read ages off wings, each held against those of all others.

    Parameters
    ----------
    known : Effects
        What the wings of the season tell; masses are not asked about.
    wing, day : numpy.ndarray, shape (n,)
    """
    track = track_of(species, grain, known.wing_factor.value, kin, wing, day, known.first_age)
    noise = known.wing_noise * track.room**2
    wings = foretell(
        track.hatched - known.first_age,
        noise / track.pace**2,
        1 / track.pace,
        kin,
        Shares(known.age_between, known.age_variance(young_in_brood(kin)), known.wing_visit),
        odd=grain.odd,
    )
    foretold = wings.mean + known.first_age + track.since
    age, age_sd, suits = best_age(track, foretold, wings.sd, noise, grain.odd)
    hatched = np.where(suits, track.hatched, np.nan)
    youngest, oldest = ages_of_siblings(hatched, track.since, kin)
    return WingAges(foretold, wings.sd, youngest, oldest, age, age_sd)


def logs_of(value: Floats, known: OneWay, kin: Kin, grain: Grain) -> Logs:
    """Foretell the logarithm of a measure of each nestling from all others.

    Parameters
    ----------
    value : numpy.ndarray, shape (n,)
        The measure; missing where it was not taken.
    known : OneWay
        What was learnt of its logarithms.
    """
    own = known.within * (1 - grain.log_bird_share)
    logs = np.log(value)
    scatter = scatter_by_visit(logs, kin.visit, known.within, grain)
    foretold = foretell(
        logs - known.mean,
        own * scatter,
        gain_by_visit(logs, kin.visit, known, grain),
        kin,
        Shares(0.0, known.within * grain.log_bird_share, known.between),
        odd=grain.odd,
    )
    # in a brood that scatters, the birds themselves do
    wide = foretold.sd**2 + own + known.within * (scatter - 1)
    return Logs(foretold.mean + known.mean, np.sqrt(wide))

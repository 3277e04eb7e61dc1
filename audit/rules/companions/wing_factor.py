"""How much longer or shorter than declared the wings of a season's nestlings are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models import growth

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.rules.scatter import Grain

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["WingTracks", "wing_factor"]


@dataclass(frozen=True, slots=True)
class WingTracks:
    """Wings of birds that were met twice and more.

    Attributes
    ----------
    wing, day : numpy.ndarray, shape (n,)
        Of all nestlings.
    earlier, later : numpy.ndarray of int, shape (k,)
        Rows of two visits of one bird that follow each other.
    together : numpy.ndarray of int, shape (k,)
        A number for each pair of visits.
    """

    curve: growth.Curve
    wing: Floats
    day: Floats
    earlier: Ints
    later: Ints
    together: Ints

    def off(self, factor: Floats | float) -> Floats:
        """Millimetres by which wings differ from what the earlier wing of the bird foretells.

        Parameters
        ----------
        factor : float or numpy.ndarray, shape (s, 1)
            How many times longer than declared the wings are.

        Returns
        -------
        numpy.ndarray, shape (k,) or (s, k)
        """
        gap = self.day[self.later] - self.day[self.earlier]
        age = growth.age_of(self.curve, self.wing[self.earlier] / factor) + gap
        told = factor * growth.mean(self.curve, np.minimum(age, self.curve.last_day))
        return np.asarray(self.wing[self.later] - told, dtype=np.float64)


def wing_factor(
    grain: Grain, tracks: WingTracks, own_sd: float, recorded: tuple[Floats, Floats], brood: Ints
) -> growth.Factor:
    """Try factors in small steps: the wings of one bird, and recorded ages, tell which one fits.

    Parameters
    ----------
    own_sd : float
        Spread of a wing about its own track, mm.
    recorded : tuple of two numpy.ndarray, shape (n,)
        Recorded ages of all nestlings, missing where there is none, and how sure they are.
    brood : numpy.ndarray of int, shape (n,)
    """
    curve = tracks.curve
    steps = np.linspace(-grain.clip, grain.clip, int(grain.factors_tried)) * grain.wing_factor_sd
    factors = np.exp(steps)[:, None]
    age, age_sd = recorded
    told = (age >= curve.first_day) & (age <= curve.last_day)
    at = np.where(told, age, curve.first_day)
    wide = np.hypot(growth.spread(curve, at), growth.pace(curve, at) * age_sd)
    beside = np.where(told, (tracks.wing - factors * growth.mean(curve, at)) / wide, np.nan)
    cost = (steps / grain.wing_factor_sd) ** 2 / 2
    cost += _misfit(tracks.off(factors) / own_sd, tracks.together, grain)
    cost += _misfit(beside, brood, grain)
    chance = np.exp(cost.min() - cost)
    chance /= chance.sum()
    middle = float(chance @ steps)
    sd = float(np.sqrt(chance @ (steps - middle) ** 2))
    return growth.Factor(float(np.exp(middle)), sd, len(np.unique(tracks.together)))


def _misfit(off: Floats, group: Ints, grain: Grain) -> Floats:
    """How badly the means of groups fit 0, as minus a log density; no group weighs without end.

    Parameters
    ----------
    off : numpy.ndarray, shape (s, k)
        Missing for the same of the k at each step.

    Returns
    -------
    numpy.ndarray, shape (s,)
    """
    known = np.isfinite(off).all(axis=0)
    if not known.any():
        return np.zeros(len(off))
    _, code = np.unique(group[known], return_inverse=True)
    groups = int(code.max()) + 1
    n = np.bincount(code).astype(np.float64)
    of_steps = code + np.arange(len(off))[:, None] * groups
    cut = np.clip(off[:, known], -grain.clip, grain.clip)
    mean = np.bincount(of_steps.ravel(), weights=cut.ravel()).reshape(len(off), groups) / n
    z2 = mean**2 / (grain.wing_visit_share + (1 - grain.wing_visit_share) / n)
    return np.asarray(np.minimum(z2, grain.clip**2).sum(axis=1) / 2, dtype=np.float64)

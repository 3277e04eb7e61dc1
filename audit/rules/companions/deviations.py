"""How far masses and sizes lie off, and how widely they scatter."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models import growth

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.declarations.species import Species
    from audit.models.effects import OneWay
    from audit.rules.scatter import Grain

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

#: Of more birds of a visit the middle one is right though one is a slip.
_PAIR = 2
__all__ = ["deviations", "gain_by_visit", "scatter_by_visit"]


def deviations(
    species: Species, factor: float, mass: Floats, age: Floats, age_sd: Floats
) -> tuple[Floats, Floats]:
    """Deviation of masses from the curve in declared spreads, and the variance that a vague age adds."""
    curve = species.curves["mass_g"]
    inside = (age >= curve.first_day) & (age <= curve.last_day)
    at = np.where(inside, age, curve.first_day)
    spread = growth.spread(curve, at)
    z = (mass / factor - growth.mean(curve, at)) / spread
    return np.where(inside, z, np.nan), (growth.pace(curve, at) * age_sd / spread) ** 2


def scatter_by_visit(logs: Floats, visit: Ints, within: float, grain: Grain) -> Floats:
    """How many times more than usual the birds of a visit differ, the oddest of them left out; at least 1."""
    known = np.isfinite(logs)
    result = np.ones(len(logs))
    if not known.any():
        return result
    codes, code = np.unique(visit[known], return_inverse=True)
    off = (logs[known] - growth.group_medians(logs[known], code)[code]) ** 2 / within
    n = np.bincount(code)
    oddest = np.zeros(len(codes))
    np.maximum.at(oddest, code, off)
    rest = np.bincount(code, weights=off) - oddest
    few = grain.between_worth
    factor = np.maximum(1.0, (few + rest) / (few + np.maximum(n - 2, 0)))
    result[known] = factor[code]
    return result


def gain_by_visit(logs: Floats, visit: Ints, known: OneWay, grain: Grain) -> Floats:
    """How many times further than usual each visit lies from the others, where that is odd; else 1.

    The birds of a brood that was visited at another age than all others agree with each other, and not with
    the season: they are foretold by each other. One bird alone, or one of two, may be a slip.
    """
    there = np.isfinite(logs)
    result = np.ones(len(logs))
    if not there.any() or known.between <= 0:
        return result
    codes, code = np.unique(visit[there], return_inverse=True)
    off = np.abs(growth.group_medians(logs[there], code) - known.mean) / np.sqrt(known.between)
    agreed = (np.bincount(code) > _PAIR) & (off > grain.odd)
    place = np.clip(np.searchsorted(codes, visit), 0, len(codes) - 1)
    return np.where((codes[place] == visit) & agreed[place], off[place], result)

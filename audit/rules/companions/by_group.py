"""Medians and counts of birds that belong together."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models import growth

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["medians_at", "medians_beside", "others_measured"]


def medians_beside(values: Floats, group: Ints) -> Floats:
    """Median of the group of each value; missing where none is known."""
    result = np.full(len(values), np.nan)
    known = np.isfinite(values)
    if known.any():
        codes, code = np.unique(group[known], return_inverse=True)
        medians = growth.group_medians(values[known], code)
        place = np.clip(np.searchsorted(codes, group), 0, len(codes) - 1)
        result = np.where(codes[place] == group, medians[place], np.nan)
    return result


def medians_at(values: Floats, group: Ints, visits: Ints) -> Floats:
    """Median of the values at each visit; missing where none is known."""
    found = medians_beside(np.r_[values, np.full(len(visits), np.nan)], np.r_[group, visits])
    return found[len(values) :]


def others_measured(group: Ints, wing: Floats, mass: Floats) -> Floats:
    """How many others of each bird's group were measured."""
    measured = (np.isfinite(wing) | np.isfinite(mass)).astype(np.float64)
    _, code = np.unique(group, return_inverse=True)
    return np.asarray(np.bincount(code, weights=measured)[code] - measured, dtype=np.float64)

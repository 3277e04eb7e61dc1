"""Shares and smoothed densities of what a column says, and days in words."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["day_text", "one_of", "share_of", "smoothed"]

_EPOCH = dt.date(1970, 1, 1)


def day_text(day: float) -> str:
    """Write a day since 1970 as ISO 8601."""
    if np.isnan(day):
        return "a day that cannot be read"
    return (_EPOCH + dt.timedelta(days=int(day))).isoformat()


def share_of(hits: Flags) -> float:
    """Share of hits, a half before any is seen."""
    return float((hits.sum() + 1 / 2) / (len(hits) + 1))


def smoothed(grid: NDArray[Any], known: Floats, width: float) -> Floats:
    """Log density over a grid, from values smoothed to a width and a little everywhere."""
    if not len(known):
        return np.zeros(len(grid))
    values, counts = np.unique(known, return_counts=True)
    z = (grid[:, None] - values[None, :]) / width
    bell = np.exp(-(z**2) / 2) @ counts / len(known)
    found: Floats = np.log(bell / max(bell.sum(), 1e-300) + 1 / len(grid) / (len(known) + 1))
    return found


def one_of(values: Ints, chosen: set[float], share: float) -> Floats:
    """Log probability of values of which some are told to be right in a share of all cases."""
    if not chosen:
        return np.zeros(len(values))
    inside = np.isin(values, list(chosen))
    others = max(int((~inside).sum()), 1)
    told, untold = float(np.log(share / len(chosen))), float(np.log((1 - share) / others))
    return np.where(inside, told, untold)

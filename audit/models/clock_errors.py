"""How likely phases of beats are by how far off clocks are: right, or by seconds or minutes."""

from __future__ import annotations

from functools import cache
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.marker_phase import MarkerPhase, RoundLimits

    Floats = NDArray[np.float64]

__all__ = ["REACH", "by_visits", "odds", "set_free", "shares", "ways", "within"]

#: Standard deviations within which whole intervals are counted.
REACH = 4.0


@cache
def shares(kinds: int, parts: int) -> Floats:
    """Give all ways to divide a whole of so many parts among some kinds, shape (ways, kinds)."""
    fences = combinations(range(kinds + parts - 1), kinds - 1)
    edges = np.array([(-1, *one, kinds + parts - 1) for one in fences])
    found: Floats = (np.diff(edges, axis=1) - 1) / parts
    return found


def ways(limits: RoundLimits) -> Floats:
    """Log of how likely each way of sharing is: with intervals chosen for such clocks, and with others."""
    many = len(shares(len(limits.scales_s), limits.parts))
    found: Floats = np.log(np.repeat([limits.trusted, 1 - limits.trusted], many) / many)
    return found


def within(off: Floats, every: Floats | float) -> Floats:
    """Bring seconds to within half an interval of 0."""
    found: Floats = (off + np.asarray(every) / 2) % every - np.asarray(every) / 2
    return found


def _densities(off: Floats, every: float, scales: Floats) -> tuple[Floats, Floats]:
    """Density times the interval by kind of clock, shape (..., kinds): by any beat, and by the nearest."""
    off = within(off, every)[..., None]
    reach = int(np.ceil(REACH * scales.max() / every)) + 1
    any_beat = np.zeros((*off.shape[:-1], len(scales)))
    for turn in range(-reach, reach + 1):
        one = np.exp(-0.5 * ((off + turn * every) / scales) ** 2) * every / (scales * np.sqrt(2 * np.pi))
        any_beat += one
        if not turn:
            nearest = one
    return any_beat, nearest


def odds(off: Floats, every: Floats, limits: RoundLimits) -> tuple[Floats, Floats]:
    """Log of how much likelier phases are than any, and the chance that the nearest beat is the right one.

    Both of shape (loggers, points, ways); `off` of shape (loggers, points).
    """
    usual = np.array(limits.scales_s)
    divided = shares(len(usual), limits.parts)
    likelier, first = [], []
    for one, interval in zip(off, every.tolist(), strict=True):
        both = []
        for scales in (np.minimum(usual, limits.trusted_part * interval), usual):
            any_beat, nearest = _densities(one, interval, scales)
            mixed = (1 - limits.beyond) * any_beat @ divided.T + limits.beyond
            both.append((np.log(mixed), (1 - limits.beyond) * nearest @ divided.T / mixed))
        likelier.append(np.concatenate([told for told, _ in both], axis=1))
        first.append(np.concatenate([told for _, told in both], axis=1))
    return np.array(likelier), np.array(first)


def by_visits(phase: MarkerPhase, limits: RoundLimits) -> tuple[float, float]:
    """Give the same of what visits leave open."""
    scale = np.array([np.hypot(phase.sd_s or 0.0, limits.scales_s[0])])
    any_beat, nearest = _densities(np.array(phase.off_s), phase.every_s, scale)
    mixed = (1 - limits.beyond) * float(any_beat[0]) + limits.beyond
    return float(np.log(mixed)), (1 - limits.beyond) * float(nearest[0]) / mixed


def set_free(phase: MarkerPhase, limits: RoundLimits) -> float:
    """Log of how much likelier settings are than any, where phases tell nothing: two errors' difference."""
    scales = np.array(limits.scales_s)
    share = shares(len(scales), limits.parts).mean(axis=0)
    mean = np.outer(share, share).ravel()
    both = np.hypot(scales[:, None], scales).ravel()
    told = 0.0
    for one in phase.again:
        if one.ways:
            more, weight = np.array(one.ways).T
            by = (one.by_s + more * phase.every_s)[:, None]
            each = np.exp(-0.5 * (by / both) ** 2) * phase.every_s / (both * np.sqrt(2 * np.pi))
            near, beyond = float(weight @ each @ mean), float(weight.mean())
        else:
            near, beyond = float(_densities(np.array(one.by_s), phase.every_s, both)[0] @ mean), 1.0
        told += float(np.log((1 - limits.beyond) * near + limits.beyond * beyond))
    return told

"""How far clocks are off: by an hour, by days, by a wrong zone, and what each costs to believe."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from audit.models.clock_beliefs import ClockBeliefs


__all__ = ["cost_of", "kind_of", "usual_offset"]

_HOUR_S = 3600.0
_DAY_S = 24 * _HOUR_S


def usual_offset(low: float, high: float, beliefs: ClockBeliefs) -> float:
    """Return the most usual offset of a range: an hour, whole days, other hours; else its middle."""
    middle = (low + high) / 2
    if high - low < _HOUR_S:
        return middle
    for usual in (_HOUR_S, -_HOUR_S):
        if low <= usual <= high:
            return usual
    for unit, most in ((_DAY_S, np.inf), (_HOUR_S, beliefs.most_hours)):
        least = np.ceil(low / unit) * unit if low > 0 else np.floor(high / unit) * unit
        if low <= least <= high and 0 < abs(least) <= most:
            return float(least)
    return middle


def kind_of(offset: float, beliefs: ClockBeliefs) -> tuple[str, float]:
    """Name an offset, and say what it is exactly if it is what its name says."""
    if abs(offset) < beliefs.as_it_stands:
        return "right", 0.0
    if abs(abs(offset) - _HOUR_S) <= beliefs.hour_within:
        return "hour", float(np.sign(offset)) * _HOUR_S
    whole = round(offset / _DAY_S) * _DAY_S
    if whole and abs(offset - whole) <= beliefs.days_within:
        return "days", whole
    if abs(offset) <= beliefs.most_hours:
        for name, unit in (("hours", _HOUR_S), ("half_hours", _HOUR_S / 2)):
            whole = round(offset / unit) * unit
            if abs(offset - whole) <= beliefs.hours_within:
                return name, whole
    return "other", offset


def cost_of(offset: float, beliefs: ClockBeliefs) -> float:
    """Return what an offset costs to believe, by its kind, as a natural logarithm."""
    return float(beliefs.costs[kind_of(offset, beliefs)[0]])

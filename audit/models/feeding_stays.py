"""Which side of an entrance is inside, by birds that bring prey: in for moments, and out for a hunt."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.box_log import night_of
from audit.models.read_groups import WAY_IN, WAY_OUT

if TYPE_CHECKING:
    from audit.models.box_log import Heard
    from audit.models.swapped import SwapLimits

__all__ = ["feeds"]

_SECOND = 1000
_HOUR_S = 3600.0


def feeds(groups: Heard, mine: slice, limits: SwapLimits) -> int:
    """Tell whether a bird feeds, and on which side.

    Parameters
    ----------
    groups : Heard
        Groups of the birds of a box, by tag, then by time.
    mine : slice
        Where those of the bird stand.
    limits : SwapLimits

    Returns
    -------
    int
        1 where it stays for moments after each way in, -1 where it does so after each way out, as if the
        antennas were exchanged, and 0 where nothing can be said.

    Notes
    -----
    A bird that feeds a brood hands the prey over within moments and hunts for many times as long, again and
    again in a night. A bird that broods leaves for short whiles, too, but for minutes and a few times only.
    """
    kind, begin, stop = groups.kind[mine], groups.begin[mine], groups.stop[mine]
    crossed = np.flatnonzero((kind == WAY_IN) | (kind == WAY_OUT))
    first, second = crossed[:-1], crossed[1:]
    lasts = (begin[second] - stop[first]) / _SECOND
    # others lie between two nights, or have a missed crossing between
    kept = (kind[first] != kind[second]) & (lasts < limits.trip_most_h * _HOUR_S)
    first, lasts = first[kept], lasts[kept]
    inward = kind[first] == WAY_IN
    if min(inward.sum(), (~inward).sum()) < limits.feeds_least:
        return 0
    # in the order of time
    nights = 1 + np.count_nonzero(np.diff(night_of(begin[first])))
    if len(first) < 2 * limits.feeds_a_night * nights or nights < limits.feeds_nights:
        return 0
    after_in, after_out = float(np.median(lasts[inward])), float(np.median(lasts[~inward]))
    short, long = min(after_in, after_out), max(after_in, after_out)
    if short > limits.hands_over_s or long < limits.hunts_times * short:
        return 0
    return 1 if after_in < after_out else -1

"""Which side of an entrance is outside, by birds that left a box for good: they went out last."""

from __future__ import annotations

from collections import defaultdict
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from audit.models.box_log import DAY_MS, night_of
from audit.models.read_groups import WAY_IN, WAY_OUT

if TYPE_CHECKING:
    from collections.abc import Collection

    from audit.models.box_log import Heard
    from audit.models.swapped import SwapLimits

__all__ = ["last_crossings", "turn_share"]


def turn_share(groups: Heard) -> float:
    """Say which share of the crossings of a bird goes the other way than its one before.

    Where a crossing is missed two in a row go one way, and so does a bird go in last where its way out was
    missed, about as often. In a mirror it is the same share.
    """
    crossed = np.flatnonzero((groups.kind == WAY_IN) | (groups.kind == WAY_OUT))
    tag, kind = groups.tag[crossed], groups.kind[crossed]
    same = tag[1:] == tag[:-1]
    turned = int((same & (kind[1:] != kind[:-1])).sum())
    # one turn and one repetition for what was never seen
    return (turned + 1) / (int(same.sum()) + 2)


def last_crossings(
    groups: Heard, until: int, limits: SwapLimits, elsewhere: Collection[int] = ()
) -> list[int]:
    """Tell which way birds went last that left for good.

    Parameters
    ----------
    groups : Heard
        Groups of the birds of a box, by tag, then by time.
    until : int
        When its logger read anything for the last time, in milliseconds.
    limits : SwapLimits
        A bird that was not heard for `gone_d` days at the end left for good.
    elsewhere : collection of int
        Tags that were heard at other boxes, which are asked about otherwise.

    Returns
    -------
    list of int
        For each night in which any did: 1 where more of them went out last, -1 where more went in last, as
        if the antennas were exchanged, and 0 where as many did. Birds that are gone in one night may be so
        for one reason, such as that they were killed inside, and count once.
    """
    by_night: dict[int, int] = defaultdict(int)
    edges = np.flatnonzero(np.diff(groups.tag, prepend=groups.tag[:1] - 1, append=groups.tag[-1:] + 1))
    for low, high in pairwise(edges.tolist()):
        # a bird that was heard again after its last crossing, at one antenna, may have crossed once more
        kind = int(groups.kind[high - 1])
        gone = until - int(groups.stop[high - 1]) >= limits.gone_d * DAY_MS
        if gone and kind in (WAY_IN, WAY_OUT) and int(groups.tag[low]) not in elsewhere:
            night = int(night_of(groups.stop[high - 1 : high])[0])
            by_night[night] += 1 if kind == WAY_OUT else -1
    return [int(np.sign(way)) for _, way in sorted(by_night.items())]

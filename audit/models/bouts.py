"""What a bird did at the entrance as a whole: groups of reads that follow each other closely."""

from __future__ import annotations

import numpy as np

from audit.models.read_groups import BOTH, INNER_ONLY, OUTER_ONLY, Groups

__all__ = ["together"]

_SECOND = 1000


def together(groups: Groups, gap: float) -> Groups:
    """Put groups of one tag at one box together, as `group_reads` with a longer gap and without moments does.

    Parameters
    ----------
    groups : Groups
        All groups of some reads, in order.
    gap : float
        Groups further apart than so many seconds stay two.
    """
    if len(groups.begin) == 0:
        return groups
    parted = groups.fresh.copy()
    parted[1:] |= groups.start[1:] - groups.stop[:-1] > gap * _SECOND
    one = np.flatnonzero(parted)
    other = np.append(one[1:], len(parted)) - 1
    ways = [np.add.reduceat(groups.heard != alone, one) > 0 for alone in (INNER_ONLY, OUTER_ONLY)]
    heard = np.where(ways[0] & ways[1], BOTH, np.where(ways[0], OUTER_ONLY, INNER_ONLY)).astype(np.int8)
    start, stop = groups.start[one], groups.stop[other]
    return Groups(
        groups.begin[one],
        groups.end[other],
        groups.fresh[one],
        heard,
        groups.first[one],
        groups.last[other],
        np.zeros(len(one), dtype=np.int32),
        start,
        stop,
        np.where(heard == OUTER_ONLY, stop, start),
        np.where(heard == OUTER_ONLY, start, stop),
    )

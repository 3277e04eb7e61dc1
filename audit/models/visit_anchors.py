"""Reads of one tag by a box logger and by a hand reader at one visit: moments known twice."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import gammainc

from audit.models.clock_limits import Anchors

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["AnchorLimits", "visit_anchors"]

_SECOND_MS = 1000.0
_HOUR_MS = 3600 * _SECOND_MS


@dataclass(frozen=True, slots=True)
class AnchorLimits:
    """Numbers by which reads of one visit are told; those of ``antennas.clock`` after ``anchor_``.

    Attributes
    ----------
    within_s : float
        Reads of one visit agree on how far the clock was off within so many seconds.
    pooled : float
        Reads of several visits agree within so many times that, for clocks drift between visits.
    farthest_h : float
        A clock is looked for within so many hours.
    pause_h : float
        Hand reads further apart belong to two visits.
    rare : float
        Heaps that chance makes more often than this are none.
    """

    within_s: float
    pooled: float
    farthest_h: float
    pause_h: float
    rare: float


def visit_anchors(
    hand_tag: Ints,
    hand_at: Floats,
    tag: Ints,
    stored: Ints,
    limits: AnchorLimits,
) -> Anchors:
    """Find what a logger and a hand reader both read at each visit.

    Parameters
    ----------
    hand_tag, hand_at : numpy.ndarray, shape (h,)
        Tags read by hand at this box and when, in milliseconds, the reader's clock set right.
    tag, stored : numpy.ndarray, shape (n,)
        Tags in the logger's memory and what its clock showed, in the order of the memory.
    limits : AnchorLimits

    Returns
    -------
    Anchors
        One for each visit at which two tags or more agree, or one tag that had no other read near; with the
        median of how far the clock was off. A tag read in the nest for hours tells no moment, so a visit
        counts only when the agreement is better than chance.

    Notes
    -----
    All differences between a hand read and reads of the same tag by the logger within `farthest_h` are laid
    in order; the window that holds differences of the most hand reads is where the clocks agree. Were the two
    unrelated, differences would fall anywhere, and a heap counts only if chance makes it once in a hundred.
    """
    order = np.argsort(hand_at, kind="stable")
    hand_tag, hand_at = hand_tag[order], hand_at[order]
    visit = np.concatenate([[0], np.cumsum(np.diff(hand_at) > limits.pause_h * _HOUR_MS)])[: len(hand_at)]
    off, by, at = _differences(hand_tag, hand_at, tag, stored, limits.farthest_h * _HOUR_MS)
    told = np.zeros(len(off), dtype=np.bool_)
    for one in np.unique(visit).tolist():
        mine = np.flatnonzero(visit[by] == one)
        told[mine[_agreed(off[mine], by[mine], limits)]] = True
    if not told.any():
        # visits with a single read each may still agree with each other
        told[_agreed(off, by, limits, limits.pooled)] = True
    place, true = [], []
    for one in np.unique(visit[by[told]]).tolist():
        mine = np.flatnonzero(told & (visit[by] == one))
        middle = float(np.median(off[mine]))
        pick = int(at[mine[np.argmin(np.abs(off[mine] - middle))]])
        place.append(pick)
        true.append(float(stored[pick]) - middle)
    in_order = np.argsort(np.array(place, dtype=np.int64), kind="stable")
    return Anchors(np.array(place, dtype=np.int64)[in_order], np.array(true, dtype=np.float64)[in_order])


def _differences(
    hand_tag: Ints, hand_at: Floats, tag: Ints, stored: Ints, farthest: float
) -> tuple[Floats, Ints, Ints]:
    """Lay out all differences of logger and hand reads of one tag, in order; which hand read, which read."""
    by_tag = np.argsort(tag, kind="stable")
    low, high = (np.searchsorted(tag[by_tag], hand_tag, side=side) for side in ("left", "right"))
    by = np.repeat(np.arange(len(hand_tag)), high - low)
    at = by_tag[np.arange(len(by)) - np.repeat(np.cumsum(high - low) - (high - low), high - low) + low[by]]
    off = stored[at] - hand_at[by]
    order = np.argsort(off, kind="stable")
    order = order[np.abs(off[order]) <= farthest]
    return off[order], by[order], at[order]


def _agreed(off: Floats, by: Ints, limits: AnchorLimits, times: float = 1.0) -> Ints:
    """Positions of the differences that agree, of the most hand reads; none if chance heaps up as many."""
    within, farthest = times * limits.within_s * _SECOND_MS, limits.farthest_h * _HOUR_MS
    ends = np.searchsorted(off, off + within, side="right")
    # only the first difference of each hand read in a window counts
    most, best = 0, 0
    for k in np.flatnonzero(ends - np.arange(len(off)) > 1).tolist():
        if ends[k] - k > most:
            count = len(np.unique(by[k : ends[k]]))
            if count > most:
                most, best = count, k
    if most < 2:  # noqa: PLR2004 - one read agrees with nothing
        return np.zeros(0, dtype=np.int64)
    chance = len(off) * within / (2 * farthest)
    by_chance = len(off) * gammainc(most - 1, chance)
    return np.arange(best, ends[best]) if by_chance < limits.rare else np.zeros(0, dtype=np.int64)

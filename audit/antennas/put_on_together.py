"""Clocks of several boxes put on by an hour at one time: what was done to two may have been done to all."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from audit.models.logger_clock import LoggerClock

    Ints = NDArray[np.int64]

__all__ = ["holes_of_steps", "put_on_together"]

_MINUTE_MS, _HOUR_MS = 60_000, 3_600_000


def holes_of_steps(clock: LoggerClock, at: Ints, within_s: float, perhaps: float) -> list[tuple[int, int]]:
    """List between what moments, by its own showing, a clock was put on by an hour, surely or perhaps.

    Parameters
    ----------
    clock : LoggerClock
    at : numpy.ndarray of int64, shape (n,)
        Moments of its memory, in milliseconds.
    within_s : float
        A step this near to an hour is one.
    perhaps : float
        Holes of an hour that are steps with this probability are listed, too.

    Returns
    -------
    list of (int, int)
        The earliest and latest moment at which it may have been put on.
    """
    found = [(int(at[place - 1]), int(at[place]) - _HOUR_MS) for place, p in clock.doubtful if p >= perhaps]
    for one, other in pairwise(clock.pieces):
        by = float(clock.offset[other.first] - clock.offset[one.last])
        if one.known and other.known and abs(by - _HOUR_MS) <= within_s * 1000:
            found.append((int(at[one.last]), int(at[other.first]) - _HOUR_MS))
    return found


def put_on_together(holes: Mapping[int, Sequence[tuple[int, int]]], slack_s: float, boxes: int) -> Ints:
    """List moments at which the clocks of several boxes may have been put on by an hour together.

    Parameters
    ----------
    holes : mapping
        Code of the box -> between what moments its clock was put on, in milliseconds.
    slack_s : float
    boxes : int
        So many must tell.

    Examples
    --------
    >>> put_on_together({0: [(0, 900_000)], 1: [(500, 90_000)], 2: [(9_000_000, 9_900_000)]}, 0, 2).tolist()
    [500, 60000, 60500, 90000]
    """
    slack = slack_s * 1000
    each = [(box, *hole) for box, some in holes.items() for hole in some]
    found = {
        moment
        for _, first, last in each
        for moment in (*range(first, last, _MINUTE_MS), last)
        if len({box for box, low, high in each if low - slack <= moment <= high + slack}) >= boxes
    }
    return np.array(sorted(found), dtype=np.int64)

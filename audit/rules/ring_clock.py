"""Rings are used in order, so the rings next to a ring tell when it was used."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.rules.sheet_order import NO_DAY
from audit.rules.string_borders import carried_on

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.rules.ring_rows import Ringings
    from audit.rules.sheet_order import Bracket

    Integers = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["ring_brackets"]


def ring_brackets(
    rings: Ringings, *, reach: int, most_days: int, share: float, own_share: float, apart: float
) -> tuple[dict[int, Bracket], frozenset[int]]:
    """Compare the day of each first ringing with the days of the rings just below and above.

    Parameters
    ----------
    rings : Ringings
    reach : int
        How far apart two rings may be and still be neighbours.
    most_days : int
        Days between the two neighbours beyond which they tell nothing.
    share : float
        Of two runs that contradict each other, one is wrong only when it is at most this share of the other.
    own_share, apart : float
        As `string_borders.carried_on` takes them: rings of another string are only neighbours where one was
        used after the other.

    Returns
    -------
    dict of int to (int, int)
        Rows whose day contradicts their rings -> days of the neighbours.
    frozenset of int
        Rows whose day agrees with rings of other days or visits on both sides.
    """
    against: dict[int, Bracket] = {}
    agreed: set[int] = set()
    for key in rings.running & rings.of_series.keys():
        rows = rings.of_series[key]
        dated = rows[rings.day[rows] != NO_DAY]
        order = dated[np.lexsort((dated, rings.serial[dated]))]
        serial, day, visit = rings.serial[order], rings.day[order], rings.visit[order]
        if order.size == 0:
            continue
        # whether a ring and the one before it are neighbours
        near = np.zeros(order.size + 1, dtype=bool)
        near[1:-1] = serial[1:] - serial[:-1] <= reach
        near[1:-1] &= carried_on(rings, key, order, own_share=own_share, apart=apart)
        # a run: consecutive rings used at one visit
        new = np.ones(order.size, dtype=bool)
        new[1:] = (visit[1:] != visit[:-1]) | ~near[1:-1]
        starts = np.flatnonzero(new)
        ends = np.append(starts[1:], order.size)
        length = ends - starts
        odd: dict[int, Bracket] = {}
        for k in range(1, starts.size - 1):
            start, end = int(starts[k]), int(ends[k])
            low, high = int(day[start - 1]), int(day[end])
            if not (near[start] and near[end]) or not low <= high <= low + most_days:
                continue
            members = order[start:end].tolist()
            same = visit[start - 1] == visit[end]
            if low <= day[start] <= high:
                agreed.update(members)
            elif all(
                _leads(near, day, at, step) or (same and length[m] > 1)
                for at, m, step in ((start - 1, k - 1, -1), (end, k + 1, 1))
            ):
                odd[k] = (low, high)
        for k, bracket in odd.items():
            rivals = [m for m in (k - 1, k + 1) if m in odd and length[k] > share * length[m]]
            if not rivals:
                against.update(dict.fromkeys(order[starts[k] : ends[k]].tolist(), bracket))
    return against, frozenset(agreed)


def _leads(near: Flags, day: Integers, at: int, step: int) -> bool:
    """Whether the rings further out confirm the day of a ring: at the end of a string nothing does."""
    other = at
    while 0 <= other < day.size and day[other] == day[at]:
        other += step
    if not 0 <= other < day.size:
        return False
    beside = near[other if step > 0 else other + 1]
    return bool(beside) and (int(day[other]) - int(day[at])) * step > 0

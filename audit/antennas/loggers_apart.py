"""Two loggers at one entrance, one for each antenna: the inner one held against the outer one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.reads import INNER, OUTER
from audit.models.two_loggers import clocks_apart

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.two_loggers import ApartLimits

    Ints = NDArray[np.int64]

__all__ = ["loggers_apart"]

_SECOND_MS = 1000.0


def loggers_apart(
    columns: tuple[NDArray[np.int32], Ints, NDArray[np.int8]], marks: Ints, gap_s: float, limits: ApartLimits
) -> float | None:
    """Say by how many seconds the inner antenna's logger is ahead of the outer one's, where that is clear.

    Parameters
    ----------
    columns : tuple of numpy.ndarray, shape (n,)
        Reads of a box: tag, moment in milliseconds, antenna.
    marks : numpy.ndarray of int64
        Codes of marker tags, which tell nothing of crossings.
    gap_s : float
        Seconds that part two groups of reads.
    limits : ApartLimits
    """
    tag, at, antenna = columns
    birds = ~np.isin(tag, marks)
    sides = []
    for side in (OUTER, INNER):
        own = birds & (antenna == side)
        if not own.any():
            return None
        order = np.lexsort((at[own], tag[own]))
        one, moments = tag[own][order], at[own][order]
        new = (np.diff(one, prepend=-1) != 0) | (np.diff(moments, prepend=0) > gap_s * _SECOND_MS)
        starts = np.flatnonzero(new)
        ends = np.append(starts[1:], len(one)) - 1
        sides += [one[starts].astype(np.int64), (moments[starts] + moments[ends]) // 2]
    found = clocks_apart(sides[0], sides[1], sides[2], sides[3], limits, crossing_s=gap_s)
    if found is None or found.n < limits.crossings or abs(found.offset_s) < limits.least_s:
        return None
    return found.offset_s

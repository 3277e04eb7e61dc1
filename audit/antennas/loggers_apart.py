"""Two files of one entrance, one for each antenna: one logger wrote both, or two are so far apart."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from audit.models.reads import INNER, OUTER
from audit.models.two_loggers import clocks_apart

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.antennas.one_clock import OneClock
    from audit.models.two_loggers import Apart, ApartLimits

    Ints = NDArray[np.int64]
    Columns = tuple[NDArray[np.int32], Ints, NDArray[np.int8]]

__all__ = ["loggers_apart", "of_both", "told_better", "told_by_one"]

_SECOND_MS = 1000.0
#: What tells of a clock besides the birds that cross.
_TELLING = ("visits", "marker moments", "marker on the round", "markers together")


def loggers_apart(columns: Columns, marks: Ints, gap_s: float, limits: ApartLimits) -> float | None:
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
    found = _crossings(columns, marks, gap_s, limits)
    if found is None or found.n < limits.crossings or abs(found.offset_s) < limits.least_s:
        return None
    return found.offset_s


def told_by_one(columns: Columns, known: OneClock, marks: Ints, gap_s: float, limits: ApartLimits) -> bool:
    """Say whether the clock of one antenna's file is that of the other's, too, by the birds that cross.

    Loggers also write one file for each of their antennas. Then crossings agree as logged, and would no
    longer if one file alone were set right.

    Parameters
    ----------
    columns : tuple of numpy.ndarray, shape (n,)
        Reads of a box: tag, moment as logged in milliseconds, antenna.
    known : OneClock
        The clock of the antenna that has a marker.
    marks : numpy.ndarray of int64
        Codes of marker tags, which tell nothing of crossings.
    gap_s : float
        Seconds that part two groups of reads.
    limits : ApartLimits
    """
    tag, logged, antenna = columns
    together = _crossings(columns, marks, gap_s, limits)
    if together is None or together.n < limits.crossings or abs(together.offset_s) >= limits.least_s:
        return False
    at, own = logged.copy(), antenna == known.memory.antenna
    at[own] = np.rint(logged[own] - known.ahead_ms(logged[own])).astype(np.int64)
    parted = _crossings((tag, at, antenna), marks, gap_s, limits)
    return parted is None or parted.n <= together.n


def told_better(judged: Sequence[OneClock], apart_s: float, within_s: float) -> bool:
    """Say whether the clocks of both antennas are known by more than the birds that cross.

    Birds that look in often heap up differences of their own. Where both clocks were set right by markers or
    visits, birds tell only of whole beats, by which markers may be mistaken.

    Parameters
    ----------
    judged : sequence of OneClock
        Clocks of the antennas, as far as anything tells.
    apart_s : float
        By how much they are apart by the birds.
    within_s : float
        So many seconds beside whole beats are none.
    """
    known = [one for one in judged if one.by in _TELLING]
    if len({one.memory.antenna for one in known}) < 2:  # noqa: PLR2004 - both antennas
        return False
    beat = min((one.clock.beat_s for one in known if one.clock.beat_s > 0), default=np.inf)
    beats = round(apart_s / beat)
    return beats == 0 or abs(apart_s - beats * beat) > within_s


def of_both(known: OneClock) -> OneClock:
    """Take the clock of one antenna's file for that of a logger with both antennas."""
    return replace(known, memory=replace(known.memory, antenna=-1))


def _crossings(columns: Columns, marks: Ints, gap_s: float, limits: ApartLimits) -> Apart | None:
    """Hold the birds heard at the inner antenna against those heard at the outer one."""
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
    return clocks_apart(sides[0], sides[1], sides[2], sides[3], limits, crossing_s=gap_s)

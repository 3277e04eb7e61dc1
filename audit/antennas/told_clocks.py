"""What is told of the clock of a logger: straight lines along which it went."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from audit.handover.passages.clock_record import ClockTold
from audit.models.reads import INNER, OUTER

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from audit.antennas.one_clock import OneClock

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["told_of"]

_SECOND_MS = 1000.0
_DAY_S = 86_400.0
_ANTENNAS = {OUTER: "outer", INNER: "inner"}


def told_of(box: str, one: OneClock, *, change: bool, within_s: float) -> Iterator[ClockTold]:
    """Give what is told of a clock, piece by piece, and each piece by straight lines.

    Parameters
    ----------
    box : str
    one : OneClock
    change : bool
        Moments are set right.
    within_s : float
        No read may lie further beside the line of its piece, in seconds; else it is told in several lines.
    """
    for nr, (piece, far) in enumerate(zip(one.clock.pieces, one.far, strict=True)):
        mine = slice(piece.first, piece.last + 1)
        at, offset = one.memory.at[mine], one.clock.offset[mine]
        # what is left alone has no offsets, and is told by its drift alone
        bent = piece.known and far
        for low, high in pairwise(_bends(at, offset, within_s * _SECOND_MS) if bent else [0, len(at) - 1]):
            # what holds in the middle of the reads is told as of the first
            first = piece.offset_s - piece.drift * float(np.median(at) - at[0]) / _SECOND_MS
            drift = piece.drift
            if bent and (low, high) != (0, len(at) - 1):
                first = float(offset[low]) / _SECOND_MS
                drift = float(offset[high] - offset[low]) / max(1.0, float(at[high] - at[low]))
            yield ClockTold(
                box,
                _ANTENNAS.get(one.memory.antenna, ""),
                int(at[low]),
                int(at[high]),
                round(first, 3) + 0.0 if piece.known else None,
                round(drift * _DAY_S, 4) + 0.0 if piece.known else 0.0,
                one.by if piece.known else "nothing",
                piece.p,
                changed=change and far,
                goes_on=low > 0,
                p_offset=one.p_offset[nr] if piece.known and one.p_offset else None,
            )


def _bends(at: Ints, offset: Floats, within: float) -> list[int]:
    """Positions of the ends of straight lines from read to read beside which no read lies further.

    Notes
    -----
    A line is parted at the read farthest from it, and both parts again (Douglas & Peucker 1973,
    Cartographica 10, 112-122, from memory).
    """
    ends, todo = [0, len(at) - 1], [(0, len(at) - 1)]
    while todo:
        low, high = todo.pop()
        if high - low < 2 or at[high] <= at[low]:  # noqa: PLR2004 - none between them
            continue
        line = np.interp(at[low : high + 1], at[[low, high]], offset[[low, high]])
        beside = np.abs(offset[low : high + 1] - line)
        farthest = low + int(np.argmax(beside))
        if beside[farthest - low] > within and low < farthest < high:
            ends.append(farthest)
            todo += [(low, farthest), (farthest, high)]
    return sorted(ends)

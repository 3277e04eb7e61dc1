"""Beats of a marker tag: a tag fixed beside an antenna that is read at even intervals, as a sign of life."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Ints = NDArray[np.int64]

__all__ = ["RARE_LEAST", "Beat", "find_beat", "one_a_beat"]

#: Gaps that differ by less than this share are the same interval.
_SAME = 0.03
#: Gaps of the same interval differ by this factor at most: one is below it and one above; and a little more.
_ALIKE = (1 + _SAME) / (1 - _SAME) * 1.001
#: Intervals that a gap may have.
_GAPS_MOST = 5
#: Beats hours apart, in milliseconds, are told by so few as keep their interval so closely: half of five gaps
#: of anything else, in which a bird may come at the same hour of each day, do so once in 10,000 tags.
_RARE_MS, RARE_LEAST, _RARE_WITHIN_MS = 6 * 3_600_000, 6, 30_000
#: Beats lie further apart than this; reads closer than this are of one beat.
_CLOSE_MS = 5_000


@dataclass(frozen=True, slots=True)
class Beat:
    """How a marker tag beats.

    Attributes
    ----------
    interval : float
        Milliseconds from one beat to the next, by the clock of the logger.
    heard : float
        Share of beats heard, long silences left out.
    times : numpy.ndarray of int64, shape (n,)
        One read of each beat heard, in milliseconds, in order.
    """

    interval: float
    heard: float
    times: Ints


def one_a_beat(times: Ints) -> Ints:
    """Keep the first of reads that follow each other closely."""
    if len(times) == 0:
        return times
    found: Ints = times[np.concatenate([[True], np.diff(times) > _CLOSE_MS])]
    return found


def find_beat(times: Ints, least: int, usual: float, worth: float) -> Beat | None:
    """Find the interval of a marker tag from its reads.

    Parameters
    ----------
    times : numpy.ndarray of int64, shape (n,)
        Reads of the marker at one antenna, in order, in milliseconds.
    least : int
        Fewer reads make no interval, but where they are hours apart to the minute.
    usual, worth : float
        Share of beats that is usually heard, and how many beats that belief is worth.

    Returns
    -------
    Beat or None
        Nothing where no interval is kept by at least half of the gaps, counting double and triple gaps.

    Notes
    -----
    Whatever share of the beats is heard, a gap of one interval is commoner than of two, so the interval is
    the commonest gap. The share heard is that of gaps of up to five intervals, so that one long silence does
    not count: for a share p of beats heard, gaps of k intervals come with p (1 - p)^(k - 1).
    """
    times = one_a_beat(times)
    few = len(times) < least
    if len(times) < min(least, RARE_LEAST):
        return None
    gaps = np.sort(np.diff(times)).astype(np.float64)
    # of the gaps that are kept, those of some number of intervals are a fifth at least: so many are alike
    alike = -(-len(gaps) // (2 * _GAPS_MOST)) - 1
    if not (gaps[alike:] <= gaps[: len(gaps) - alike] * _ALIKE).any():
        return None
    upper = np.searchsorted(gaps, gaps * (1 + _SAME), side="right")
    place = int(np.argmax(upper - np.arange(len(gaps))))
    interval = float(np.median(gaps[place : upper[place]]))
    number = np.rint(gaps / interval)
    near = (number >= 1) & (number <= _GAPS_MOST)
    kept = near & (np.abs(gaps - number * interval) <= (_RARE_WITHIN_MS if few else _SAME * interval))
    if kept.sum() * 2 < len(gaps) or (few and interval < _RARE_MS):
        return None
    heard = (kept.sum() + worth * usual) / (number[kept].sum() + worth)
    return Beat(interval, float(heard), times)

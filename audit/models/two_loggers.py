"""Two loggers, one for each antenna: how far their clocks are apart, by the birds that cross both."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Apart", "ApartLimits", "clocks_apart"]

_SECOND_MS = 1000.0
#: Differences are counted so closely, in milliseconds.
_CELL_MS = 100.0


@dataclass(frozen=True, slots=True)
class ApartLimits:
    """Numbers by which two clocks are told apart; those of ``antennas.clock`` after ``apart_``.

    Attributes
    ----------
    least_s : float
        Clocks that differ by less are taken for one.
    crossings : int
        Fewer do not tell.
    farthest_s : float
        Clocks are looked for within so many seconds.
    sure : float
        A heap of differences must rise so many standard deviations above what chance heaps up.
    """

    least_s: float
    crossings: int
    farthest_s: float
    sure: float


@dataclass(frozen=True, slots=True)
class Apart:
    """How far two clocks are apart.

    Attributes
    ----------
    offset_s : float
        Seconds by which the clock of the inner antenna is ahead of that of the outer one.
    sd_s : float
        Its standard deviation.
    n : int
        Crossings that tell.
    """

    offset_s: float
    sd_s: float
    n: int


def clocks_apart(
    outer_tag: Ints,
    outer_at: Ints,
    inner_tag: Ints,
    inner_at: Ints,
    limits: ApartLimits,
    *,
    crossing_s: float = 10.0,
) -> Apart | None:
    """Find how far the clock of the inner antenna is ahead of that of the outer one.

    Parameters
    ----------
    outer_tag, outer_at : numpy.ndarray of int, shape (n,)
        Groups of reads at the outer antenna: the tag, and the middle of the group in milliseconds.
    inner_tag, inner_at : numpy.ndarray of int, shape (m,)
        The same at the inner antenna.
    limits : ApartLimits
    crossing_s : float
        A crossing from one antenna to the other takes less, in seconds.

    Returns
    -------
    Apart or None
        Nothing where no heap of differences stands out.

    Notes
    -----
    A bird going in is heard later at the inner antenna by the time that it takes, one going out sooner by as
    much. As birds go in as often as they go out, the two humps lie evenly about the difference of the clocks:
    it is what most pairs of differences have in their middle.
    """
    off = _differences(outer_tag, outer_at, inner_tag, inner_at, limits.farthest_s * _SECOND_MS)
    if len(off) < 2:  # noqa: PLR2004 - one difference has no middle
        return None
    width = crossing_s * _SECOND_MS
    ends = np.searchsorted(off, off + 2 * width, side="right")
    best = int(np.argmax(ends - np.arange(len(off))))
    count = int(ends[best]) - best
    chance = len(off) * width / (limits.farthest_s * _SECOND_MS)
    if count < chance + limits.sure * np.sqrt(chance + 1):
        return None
    middle = _even(off, float(off[best : ends[best]].mean()), width)
    near = off[np.abs(off - middle) <= width]
    return Apart(middle / _SECOND_MS, float(near.std()) / np.sqrt(len(near)) / _SECOND_MS, len(near))


def _even(off: Floats, about: float, width: float) -> float:
    """Find about what moment differences lie most evenly: where most pairs of them have their middle.

    Birds that stay in the box, or before it, heap up differences on one side, broad and low, which draw a
    mean to them; of the two humps of crossings each has its like on the other side.
    """
    cells = int(4 * width / _CELL_MS)
    count, edges = np.histogram(off, bins=cells, range=(about - 2 * width, about + 2 * width))
    # a second wide, since moments may be whole seconds
    smooth = np.hanning(2 * round(_SECOND_MS / _CELL_MS) + 1)
    pairs = np.convolve(np.convolve(count.astype(np.float64), count), smooth, mode="same")
    # two cells of numbers i and j have their middle half way between
    middles = edges[0] + (np.arange(len(pairs)) + 1) * _CELL_MS / 2
    return float(middles[int(np.argmax(pairs))])


def _differences(outer_tag: Ints, outer_at: Ints, inner_tag: Ints, inner_at: Ints, farthest: float) -> Floats:
    """All differences of groups of one tag, inner less outer, in order."""
    found = []
    for tag in np.intersect1d(outer_tag, inner_tag).tolist():
        one = np.sort(outer_at[outer_tag == tag]).astype(np.float64)
        other = np.sort(inner_at[inner_tag == tag]).astype(np.float64)
        low = np.searchsorted(other, one - farthest)
        count = np.searchsorted(other, one + farthest, side="right") - low
        of = np.repeat(np.arange(len(one)), count)
        at = np.arange(len(of)) - np.repeat(np.cumsum(count) - count, count) + low[of]
        found.append(other[at] - one[of])
    return np.sort(np.concatenate(found)) if found else np.zeros(0)

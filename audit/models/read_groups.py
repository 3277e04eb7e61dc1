"""Reads of one bird at one box that belong together: one crossing, one look, one rest in the entrance."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.reads import INNER

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.reads import Reads

    Flags = NDArray[np.bool_]
    Ints = NDArray[np.int64]

__all__ = [
    "BOTH",
    "INNER_ONLY",
    "LOOK_IN",
    "LOOK_OUT",
    "OUTER_ONLY",
    "TIE",
    "WAY_IN",
    "WAY_OUT",
    "Groups",
    "find_gap",
    "first_reads",
    "group_reads",
]

#: What a group looks like by itself, whatever the bird did.
OUTER_ONLY, INNER_ONLY, BOTH = 0, 1, 2
#: Which antenna was first or last where both heard the bird at one stamp.
TIE = 2
#: Classes by first and last antenna; anything with a tie that decides has none.
WAY_IN, WAY_OUT, LOOK_IN, LOOK_OUT = 2, 3, 4, 5

#: Bins of the histogram of gaps widen by this factor.
_WIDER = 1.25
#: So many gaps show the valley as well as all.
_ENOUGH = 2_000_000
_SECOND = 1000
#: Milliseconds that gaps of a clock of whole seconds may be off, and the share of gaps that are not more.
_SLACK, _WHOLE = 4, 0.9
#: Of the gaps of one antenna so few are shorter than a logger waits, and so many hardly longer.
_RARE, _TIMES, _OFTEN = 0.02, 1.3, 0.3


@dataclass(frozen=True, slots=True)
class Groups:
    """Reads of one tag at one box without a long gap between them, in the order of the reads.

    Attributes
    ----------
    begin, end : numpy.ndarray of int64, shape (k,)
        Positions of the first read, and behind the last.
    fresh : numpy.ndarray of bool, shape (k,)
        Whether it is the first of a tag at a box.
    heard : numpy.ndarray of int8, shape (k,)
        ``OUTER_ONLY``, ``INNER_ONLY`` or ``BOTH``.
    first, last : numpy.ndarray of int8, shape (k,)
        Antenna that heard the bird first and last; ``TIE`` where both have that stamp.
    changes : numpy.ndarray of int32, shape (k,)
        How often the other antenna followed at a later stamp.
    start, stop : numpy.ndarray of int64, shape (k,)
        Stamps of the first and last read, in milliseconds.
    inward, outward : numpy.ndarray of int64, shape (k,)
        The moment at which the bird passed, if it passed in, or out: of the last read at which it had come
        to the other antenna; with one antenna, its read nearest to the crossing.
    """

    begin: Ints
    end: Ints
    fresh: Flags
    heard: NDArray[np.int8]
    first: NDArray[np.int8]
    last: NDArray[np.int8]
    changes: NDArray[np.int32]
    start: Ints
    stop: Ints
    inward: Ints
    outward: Ints

    @property
    def kind(self) -> NDArray[np.int8]:
        """Class by the order of the antennas, shape (k,); -1 where a tie leaves it open."""
        found = self.heard.astype(np.int8)
        both = self.heard == BOTH
        found[both] = -1
        for start, end, kind in ((0, 1, WAY_IN), (1, 0, WAY_OUT), (0, 0, LOOK_IN), (1, 1, LOOK_OUT)):
            found[both & (self.first == start) & (self.last == end)] = kind
        return found


def find_gap(reads: Reads, fallback: float, least: float, most: float, enough: int) -> float:
    """Find the gap that parts two groups: the valley between short gaps within a crossing and long ones.

    Parameters
    ----------
    reads : Reads
        Sorted by box, tag and time.
    fallback : float
        Seconds, where there is no valley to be seen.
    least, most : float
        Bounds of the gap, in seconds.
    enough : int
        So many gaps must lie below the valley and above it.

    Returns
    -------
    float
        Seconds; reads further apart than this belong to two groups.

    Notes
    -----
    The histogram is that of log gaps, so its density is that of a time per unit of its logarithm; edges lie
    between two stamps the clock can show. Where the bottom is flat its geometric middle is taken.

    References
    ----------
    The minimum between the two humps of a histogram: common practice.
    """
    gaps, same = _gaps(reads)
    if len(gaps) == 0:
        return fallback
    return max(_valley(gaps, fallback, least, most, enough), _held_off(gaps[same], most, enough))


def _held_off(gaps: Ints, most: float, enough: int) -> float:
    """Half as much again as a logger waits before it stores a tag again; 0 where it does not wait for long.

    A bird at rest is stored as soon as the logger may, so just there many gaps of one antenna begin.
    """
    gaps = gaps[gaps < most * _SECOND]
    if len(gaps) < enough:
        return 0.0
    held = float(np.quantile(gaps, _RARE))
    often = float((gaps <= _TIMES * held).mean())
    return min(1.5 * held / _SECOND, most) if often > _OFTEN else 0.0


def _valley(gaps: Ints, fallback: float, least: float, most: float, enough: int) -> float:
    tick = _tick(gaps)
    low, high = least * _SECOND, most * _SECOND
    n = int(np.ceil(np.log(high / low) / np.log(_WIDER)))
    edges = np.unique(np.floor(np.geomspace(low, high, n + 1) / tick)) * tick + tick / 2
    if len(edges) < 2 or min((gaps < edges[0]).sum(), (gaps > edges[-1]).sum()) < enough:  # noqa: PLR2004 - two humps
        return fallback
    counts = np.histogram(gaps, edges)[0] / np.diff(np.log(edges))
    padded = np.pad(counts, 1, mode="edge")
    smooth = (padded[:-2] + padded[1:-1] + padded[2:]) / 3
    bottom = np.flatnonzero(smooth <= smooth.min() * (1 + 1e-9))
    run = bottom[: 1 + int(np.argmin(np.append(np.diff(bottom) == 1, False)))]
    return float(np.sqrt(edges[run[0]] * edges[run[-1] + 1])) / _SECOND


def first_reads(reads: Reads) -> Ints:
    """Give the position of the first read of each tag at each box; reads are sorted by box, tag and time."""
    if len(reads.at) == 0:
        return np.empty(0, dtype=np.int64)
    return np.concatenate([[0], np.flatnonzero(_other_bird(reads)) + 1])


def group_reads(reads: Reads, gap: float, *, moments: bool = True) -> Groups:
    """Put reads of one tag at one box together.

    Parameters
    ----------
    reads : Reads
        Sorted by box, tag and time.
    gap : float
        Reads further apart than so many seconds belong to two groups.
    moments : bool
        Whether it is asked how often the antenna changed and when a bird passed; else `changes` are none,
        and `inward` and `outward` are those of one antenna.

    Returns
    -------
    Groups
    """
    n = len(reads.at)
    if n == 0:
        return _none()
    other = _other_bird(reads)
    parted = other | (np.diff(reads.at) > gap * _SECOND)
    begin = np.concatenate([[0], np.flatnonzero(parted) + 1])
    end = np.append(begin[1:], n)
    fresh = np.concatenate([[True], other[begin[1:] - 1]])
    inner = reads.antenna == INNER
    seen = np.zeros(n + 1, dtype=np.int32)
    np.cumsum(inner, out=seen[1:])
    n_inner = seen[end] - seen[begin]
    heard = np.where(n_inner == 0, OUTER_ONLY, np.where(n_inner == end - begin, INNER_ONLY, BOTH))
    start, stop = reads.at[begin], reads.at[end - 1]
    first = np.where(heard == BOTH, 0, heard).astype(np.int8)
    last, changes = first.copy(), np.zeros(len(begin), dtype=np.int32)
    inward = np.where(heard == OUTER_ONLY, stop, start)
    outward = np.where(heard == OUTER_ONLY, start, stop)
    both = np.flatnonzero(heard == BOTH)
    if len(both):
        at_inner, at_outer = np.flatnonzero(inner), np.flatnonzero(~inner)
        b, e = begin[both], end[both]
        before, behind = seen[b], seen[e]
        outer, inside = reads.at[at_outer[b - before]], reads.at[at_inner[before]]
        last_outer = reads.at[at_outer[e - behind - 1]]
        first[both] = _sooner(outer, inside)
        last[both] = _sooner(-last_outer, -reads.at[at_inner[behind - 1]])
        if moments:
            turned = inner[1:] != inner[:-1]
            count = np.zeros(n, dtype=np.int32)
            np.cumsum(turned & (reads.at[1:] > reads.at[:-1]), out=count[1:])
            changes[both] = count[e - 1] - count[b]
            inward[both] = _last_turn(reads.at, np.flatnonzero(turned & inner[1:]) + 1, b, e, inside)
            outward[both] = _last_turn(reads.at, np.flatnonzero(turned & ~inner[1:]) + 1, b, e, last_outer)
    return Groups(
        begin, end, fresh, heard.astype(np.int8), first, last, changes, start, stop, inward, outward
    )


def _none() -> Groups:
    ints, small = np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int8)
    return Groups(
        begin=ints,
        end=ints,
        fresh=np.empty(0, dtype=np.bool_),
        heard=small,
        first=small,
        last=small,
        changes=np.empty(0, dtype=np.int32),
        start=ints,
        stop=ints,
        inward=ints,
        outward=ints,
    )


def _other_bird(reads: Reads) -> Flags:
    """Whether the next read is of another tag, or at another box."""
    found: Flags = (reads.box[1:] != reads.box[:-1]) | (reads.tag[1:] != reads.tag[:-1])
    return found


def _gaps(reads: Reads) -> tuple[Ints, Flags]:
    """Gaps between successive reads of a bird, in milliseconds, taken evenly where there are many.

    And whether one antenna read both.
    """
    n = len(reads.at)
    stride = max(1, n // _ENOUGH)
    one = np.arange(0, max(n - 1, 0), stride)
    same = (reads.box[one] == reads.box[one + 1]) & (reads.tag[one] == reads.tag[one + 1])
    one = one[same]
    return reads.at[one + 1] - reads.at[one], reads.antenna[one + 1] == reads.antenna[one]


def _tick(gaps: Ints) -> int:
    """How finely the clock tells: a second, more or less where it was set right, or a millisecond."""
    off = (gaps + _SLACK) % _SECOND
    return _SECOND if float((off <= 2 * _SLACK).mean()) > _WHOLE else 1


def _sooner(outer: Ints, inner: Ints) -> NDArray[np.int8]:
    return np.where(outer == inner, TIE, outer > inner).astype(np.int8)


def _last_turn(at: Ints, turns: Ints, begin: Ints, end: Ints, without: Ints) -> Ints:
    """Stamp of the last turn inside each group; `without` where it has none, for the clock may be coarse."""
    if len(turns) == 0:
        return without
    place = np.searchsorted(turns, end) - 1
    turn = turns[np.maximum(place, 0)]
    found: Ints = np.where((place >= 0) & (turn > begin), at[turn], without)
    return found

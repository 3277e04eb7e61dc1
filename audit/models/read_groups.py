"""Reads of one bird at one box that belong together: one crossing, one look, one rest in the entrance."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.reads import INNER, OUTER

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
    "first_reads",
    "group_reads",
]

#: What a group looks like by itself, whatever the bird did.
OUTER_ONLY, INNER_ONLY, BOTH = 0, 1, 2
#: Which antenna was first or last where both heard the bird at one stamp.
TIE = 2
#: Classes by first and last antenna; anything with a tie that decides has none.
WAY_IN, WAY_OUT, LOOK_IN, LOOK_OUT = 2, 3, 4, 5

#: Class by what was heard, which antenna was first, and which last.
_KINDS = np.full((3, 3, 3), -1, dtype=np.int8)
_KINDS[OUTER_ONLY], _KINDS[INNER_ONLY] = OUTER_ONLY, INNER_ONLY
_KINDS[BOTH, :2, :2] = (LOOK_IN, WAY_IN), (WAY_OUT, LOOK_OUT)

_SECOND = 1000
#: No gap is as long.
_FOREVER = 2**62


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
        found: NDArray[np.int8] = _KINDS.take(self.heard * np.int8(9) + self.first * np.int8(3) + self.last)
        return found


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
    parted = other | (np.diff(reads.at) > int(min(gap * _SECOND, _FOREVER)))
    begin = np.concatenate([[0], np.flatnonzero(parted) + 1])
    end = np.append(begin[1:], n)
    fresh = np.concatenate([[True], other[begin[1:] - 1]])
    # where the other antenna follows, and how many times it did so far
    turned = reads.antenna[1:] != reads.antenna[:-1]
    turns, count = np.flatnonzero(turned) + 1, np.zeros(n, dtype=np.int32)
    np.cumsum(turned, out=count[1:])
    heard = np.where(reads.antenna[begin] == INNER, INNER_ONLY, OUTER_ONLY).astype(np.int8)
    both = np.flatnonzero(count[end - 1] > count[begin])
    start, stop = reads.at[begin], reads.at[end - 1]
    first = heard.copy()
    last, changes = first.copy(), np.zeros(len(begin), dtype=np.int32)
    heard[both] = BOTH
    inward = np.where(heard == OUTER_ONLY, stop, start)
    outward = np.where(heard == OUTER_ONLY, start, stop)
    if len(both):
        b, e = begin[both], end[both]
        since, until = count[b], count[e - 1]
        # the other antenna heard the bird first at the first turn, and last before the last one
        other, other_last = reads.at[turns[since]], reads.at[turns[until - 1] - 1]
        one, one_last = start[both], stop[both]
        first[both] = np.where(other == one, TIE, reads.antenna[b])
        last[both] = np.where(other_last == one_last, TIE, reads.antenna[e - 1])
        if moments:
            inside = np.where(reads.antenna[b] == INNER, one, other)
            last_outer = np.where(reads.antenna[e - 1] == OUTER, one_last, other_last)
            changes[both], inward[both], outward[both] = _turns(
                reads, turns, (since, until), b, (inside, last_outer)
            )
    return Groups(begin, end, fresh, heard, first, last, changes, start, stop, inward, outward)


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


def _turns(
    reads: Reads,
    turns: Ints,
    counts: tuple[NDArray[np.int32], NDArray[np.int32]],
    begin: Ints,
    without: tuple[Ints, Ints],
) -> tuple[Ints, Ints, Ints]:
    """How often the other antenna followed later in some groups, and their last turns inward and outward.

    `counts` are turns up to the first and the last read of each group. Where a group has no such turn, those
    of `without`, for the clock may be coarse.
    """
    since, until = counts
    later = np.zeros(len(turns) + 1, dtype=np.int64)
    np.cumsum(reads.at[turns] > reads.at[turns - 1], out=later[1:])
    # inward and outward take turns, whichever begins
    inward = int(reads.antenna[0] == INNER)
    ways = [
        _last_turn(reads.at, turns[first::2], (until + 1 - first) // 2, begin, stamp)
        for first, stamp in zip((inward, 1 - inward), without, strict=True)
    ]
    return later[until] - later[since], ways[0], ways[1]


def _last_turn(at: Ints, turns: Ints, many: NDArray[np.int32], begin: Ints, without: Ints) -> Ints:
    """Stamp of the last turn inside each group; `without` where it has none, for the clock may be coarse.

    `many` turns come before the end of each group.
    """
    if len(turns) == 0:
        return without
    turn = turns[np.maximum(many - 1, 0)]
    found: Ints = np.where((many > 0) & (turn > begin), at[turn], without)
    return found

"""Numbers used in order: strings of rings, dates of a sheet. Mathematics on integer arrays."""

from __future__ import annotations

from bisect import bisect_right
from typing import TYPE_CHECKING, TypeVar

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Integers = NDArray[np.int64]
    Flags = NDArray[np.bool_]

Serial = TypeVar("Serial", int, "NDArray[np.int64]")

__all__ = ["follows_neighbours", "has_mate", "longest_rising", "missing_inside", "slot_of"]


def follows_neighbours(serial: Integers, day: Integers, reach: int) -> Flags:
    """Whether each number was used when its neighbours in the string say it should have been.

    A number stands well when a lower number at most `reach` away was used no later, or a higher one no
    earlier, and the nearest of neither side contradicts it. A number without any neighbour within reach
    stands alone.

    Parameters
    ----------
    serial : array of int, shape (n,)
        Serial numbers of one series; a number may occur more than once.
    day : array of int, shape (n,)
        Day on which each was used, in days.
    reach : int
        How far apart two numbers may be and still be neighbours.

    Returns
    -------
    array of bool, shape (n,)
    """
    if serial.size == 0:
        return np.zeros(0, dtype=bool)
    numbers, place = np.unique(serial, return_inverse=True)
    first = np.full(numbers.size, np.iinfo(np.int64).max)
    last = np.full(numbers.size, np.iinfo(np.int64).min)
    np.minimum.at(first, place, day)
    np.maximum.at(last, place, day)
    step = np.diff(numbers)
    has_lower = np.concatenate([[False], step <= reach])[place]
    has_higher = np.concatenate([step <= reach, [False]])[place]
    # at the ends the value is a filler that the flags above leave out
    lower_day = np.concatenate([first[:1], first[:-1]])[place]
    higher_day = np.concatenate([last[1:], last[-1:]])[place]
    contradicted = (has_lower & (lower_day > day)) | (has_higher & (higher_day < day))
    return np.asarray((has_lower | has_higher) & ~contradicted, dtype=bool)


def has_mate(serial: Integers, group: Integers, reach: int) -> Flags:
    """Whether another, different number of the same group is at most `reach` away.

    Parameters
    ----------
    serial, group : array of int, shape (n,)
        Numbers, and the group (a visit) each belongs to; a negative group has no members.
    reach : int
        How far apart two numbers of a run may be.

    Returns
    -------
    array of bool, shape (n,)
    """
    found = np.zeros(serial.size, dtype=bool)
    order = np.lexsort((serial, group))
    s, g = serial[order], group[order]
    if s.size:
        # equal numbers are no mates of each other, so runs of equal numbers are looked over as one
        starts = np.concatenate([[True], (s[1:] != s[:-1]) | (g[1:] != g[:-1])])
        run = np.cumsum(starts) - 1
        number, owner = s[starts], g[starts]
        close = (number[1:] - number[:-1] <= reach) & (owner[1:] == owner[:-1]) & (owner[1:] >= 0)
        either = np.concatenate([[False], close]) | np.concatenate([close, [False]])
        found[order] = either[run]
    return found


def missing_inside(numbers: Integers, most: int) -> list[tuple[int, int]]:
    """Gaps in a set of numbers: first and last missing number of each gap of at most `most` numbers.

    Examples
    --------
    >>> missing_inside(np.array([4, 1, 2, 90]), 3)
    [(3, 3)]
    """
    used = np.unique(numbers)
    step = np.diff(used)
    open_at = np.flatnonzero((step > 1) & (step <= most + 1))
    return [(int(used[i]) + 1, int(used[i + 1]) - 1) for i in open_at]


def longest_rising(values: Integers) -> Flags:
    """Mark a longest subsequence that never falls.

    Parameters
    ----------
    values : array of int, shape (n,)

    Returns
    -------
    array of bool, shape (n,)
        True for the members; the others break the order.

    References
    ----------
    Fredman, M. L. (1975). On computing the length of longest increasing subsequences. Discrete Mathematics
    11(1), 29-35: O(n log n) by keeping the smallest tail of each length.
    """
    tails: list[int] = []
    tail_at: list[int] = []
    before = np.full(values.size, -1, dtype=np.int64)
    for i, value in enumerate(values.tolist()):
        k = bisect_right(tails, value)
        before[i] = tail_at[k - 1] if k else -1
        if k == len(tails):
            tails.append(value)
            tail_at.append(i)
        else:
            tails[k] = value
            tail_at[k] = i
    member = np.zeros(values.size, dtype=bool)
    at = tail_at[-1] if tail_at else -1
    while at >= 0:
        member[at] = True
        at = int(before[at])
    return member


def slot_of(serial: Serial, length: int) -> Serial:
    """Say which string a ring, or each of some, belongs to: strings run from ...01 to ...00.

    Examples
    --------
    >>> slot_of(1300, 100), slot_of(1301, 100)
    (12, 13)
    """
    return (serial - 1) // length

"""Where one string of rings ends and the next begins, and whether the next was used after it."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from audit.models.sequence import slot_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.rules.ring_rows import Key, Ringings

    Integers = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["carried_on"]


def carried_on(rings: Ringings, key: Key, order: Integers, *, own_share: float, apart: float) -> Flags:
    """Tell of each ring whether it and the next are of one string, or of two of which one followed the other.

    Within a string rings are used in turn, whoever puts them on. The next string may be in the bag of
    somebody else, who began it weeks before or after: it says nothing of the day of the last ring.

    Parameters
    ----------
    rings : Ringings
    key : (str, int)
        Series.
    order : array of int, shape (n,)
        Dated rows of the series by serial number.
    own_share : float
        A string of which at least this share was put on by one ringer is theirs.
    apart : float
        Share of the rings at either end that may lie where they should not, in a string that was begun
        after the one before it.

    Returns
    -------
    array of bool, shape (n - 1,)
    """
    strings = _strings(rings, key, rings.serial[order])
    carried: Flags = np.asarray(strings[1:] == strings[:-1], dtype=bool)
    if carried.all():
        return carried
    border = np.flatnonzero(~carried) + 1
    parts = np.split(order, border)
    whose = [_holder(rings, part, own_share) for part in parts]
    days = [rings.day[part] for part in parts]
    turns = [bool(np.quantile(one, 1 - apart) <= np.quantile(other, apart)) for one, other in pairwise(days)]
    # where nobody is named, two strings of which neither followed the other show that people share them
    in_line = all(turns)
    for at, turn, (one, other) in zip(border, turns, pairwise(whose), strict=True):
        named = bool(one and other)
        carried[at - 1] = turn and (one == other if named else in_line)
    return carried


def _strings(rings: Ringings, key: Key, serial: Integers) -> Integers:
    """Give each ring the number of its string: as it was issued, or else by the hundred."""
    length = rings.string_length
    found = slot_of(serial, length)
    for place, string in enumerate(rings.strings.get(key, ()), 1):
        if not string.fault:
            found[(serial >= string.first) & (serial <= string.last)] = -place
    return found


def _holder(rings: Ringings, rows: Integers, own_share: float) -> str:
    """Name the ringer of a string; empty where several shared it, or nobody is named."""
    named = Counter(str(name).strip().casefold() for name in rings.ringer[rows].tolist() if name)
    if not named:
        return ""
    name, many = named.most_common(1)[0]
    return name if many >= own_share * named.total() else ""

"""What may become of a ring, and how the rings of one string divide among it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Flags = NDArray[np.bool_]
    Integers = NDArray[np.int64]
    Codes = NDArray[np.int8]

__all__ = ["CODES", "FATES", "NO_DAY", "Fate", "Habits", "settle"]

#: Day of what has no date.
NO_DAY = np.iinfo(np.int64).min


class Fate(StrEnum):
    """What became of a ring; every ring of a string has exactly one.

    ``IN_HAND``: not reached yet. ``UNACCOUNTED``: rings above it are on birds, it itself is on none and among
    no losses. ``EARLIER``: below the first ring of this season in a string that was issued in an
    earlier year, or on an unknown day: used before this season, or unknown.
    """

    ON_A_BIRD = "on a bird"
    LOST = "lost"
    DESTROYED = "destroyed"
    RETURNED = "returned"
    PASSED_ON = "passed on"
    EARLIER = "before this season"
    IN_HAND = "in hand"
    UNACCOUNTED = "unaccounted"


#: In the order of their codes.
FATES: tuple[Fate, ...] = tuple(Fate)
CODES = {fate: code for code, fate in enumerate(FATES)}


@dataclass(frozen=True, slots=True)
class Habits:
    """How strings are used.

    Attributes
    ----------
    part : int
        A gap of so many rings may be the boundary between two hands that use one string.
    least : int
        So many rings in use are a part of a string rather than one ring out of place.
    """

    part: int
    least: int


def settle(told: Codes, new: Flags, day: Integers, *, early: bool, habits: Habits) -> Codes:
    """Give every ring of one string its fate.

    Parameters
    ----------
    told : array of int, one entry per ring of the string
        Code of the fate as the tables tell it; -1 where they tell none.
    new : array of bool
        Put on a bird this season.
    day : array of int
        Day on which it was put on, as days since 1970; `NO_DAY` where unknown.
    early : bool
        Whether the string may have been in use before this season.
    habits : Habits
        How strings are used.

    Returns
    -------
    array of int
        Code of the fate of each ring. The order of rows in the tables has no part in it.
    """
    fate = told.copy()
    left = told < 0
    worn = told == CODES[Fate.ON_A_BIRD]
    if not worn.any():
        fate[left] = CODES[Fate.IN_HAND]
        return fate
    turned = _drawn_from_the_top(new if new.any() else worn, day, early=early)
    if turned:
        fate, left, worn, new, day = fate[::-1], left[::-1], worn[::-1], new[::-1], day[::-1]
    places = np.arange(fate.size)
    on = np.flatnonzero(worn)
    fate[left] = CODES[Fate.UNACCOUNTED]
    fate[left & (places > on[-1])] = CODES[Fate.IN_HAND]
    fresh = np.flatnonzero(worn & new)
    if early:
        start = fresh[0] if fresh.size else on[-1]
        fate[left & (places < start)] = CODES[Fate.EARLIER]
    for low, high in _between_hands(fresh, day, habits):
        fate[low + 1 : high][left[low + 1 : high]] = CODES[Fate.IN_HAND]
    return fate[::-1] if turned else fate


def _drawn_from_the_top(used: Flags, day: Integers, *, early: bool) -> bool:
    """Whether a string is used from its last ring down: by the days of use, or else by the end that is whole.

    Not so where fewer rings would be passed over if it were used from the first ring up.
    """
    on = np.flatnonzero(used)
    above, below = used.size - 1 - int(on[-1]), int(on[0])
    if above > below:
        return False
    dated = on[day[on] != NO_DAY]
    _, place = np.unique(day[dated], return_inverse=True)
    counts = np.bincount(place)
    means = np.bincount(place, weights=dated) / counts if counts.size else np.zeros(0)
    steps = int(np.sign(np.diff(means)).sum())
    return steps < 0 if steps else above == 0 < below and on.size > 1 and not early


def _between_hands(fresh: Integers, day: Integers, habits: Habits) -> list[tuple[int, int]]:
    """Gaps in a string that two hands use at a time: the lower was not through when the upper began."""
    found = []
    begin = 0
    for k in np.flatnonzero(np.diff(fresh) > habits.part).tolist():
        lower, upper = day[fresh[begin : k + 1]], day[fresh[k + 1 :]]
        lower, upper = lower[lower != NO_DAY], upper[upper != NO_DAY]
        if min(lower.size, upper.size) >= habits.least and upper.min() <= lower.max():
            found.append((int(fresh[k]), int(fresh[k + 1])))
            begin = k + 1
    return found

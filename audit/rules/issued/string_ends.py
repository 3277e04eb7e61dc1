"""Ends of a string as issued, those that it may have been meant to have, and rings beyond them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.ring_number import bare, join_ring
from audit.models.spelling import one_slip_apart

if TYPE_CHECKING:
    from audit.rules.case import Case
    from audit.rules.ring_rows import Key, Ringings
    from audit.rules.stock import IssuedString

__all__ = ["as_written", "rest", "spans", "used_in", "usual_ends", "without_string"]


#: Slips that keep the number of digits.
_SAME_LENGTH = ("changed", "exchanged")


def spans(string: IssuedString, usual: int) -> dict[str, tuple[int, int]]:
    """First and last number of a string of the usual length that keeps one of its ends."""
    return {
        "first": (string.last - usual + 1, string.last),
        "last": (string.first, string.first + usual - 1),
    }


def rest(string: IssuedString, usual: int) -> dict[str, tuple[int, int]]:
    """First and last number that a short string lacks, below and above it."""
    return {
        "first": (string.last - usual + 1, string.first - 1),
        "last": (string.last + 1, string.first + usual - 1),
    }


def usual_ends(string: IssuedString, usual: int) -> dict[str, str]:
    """Find ends one slip away with which a string has the usual number of rings."""
    ends = {
        "first": (string.first, string.last - usual + 1),
        "last": (string.last, string.first + usual - 1),
    }
    found = {}
    for name, (typed, serial) in ends.items():
        ring = join_ring(string.stem, max(serial, 0), string.width)
        if serial >= 0 and one_slip_apart(ring, join_ring(string.stem, typed, string.width)) in _SAME_LENGTH:
            found[name] = ring
    return found


def used_in(rings: Ringings, key: Key, low: int, high: int) -> list[int]:
    """Rows of rings between two numbers that were put on, by number."""
    rows = rings.of_series.get(key)
    if rows is None:
        return []
    inside = rows[(rings.serial[rows] >= low) & (rings.serial[rows] <= high)]
    return [int(i) for i in inside[np.argsort(rings.serial[inside], kind="stable")]]


def without_string(rings: Ringings, key: Key, low: int, high: int) -> list[int]:
    """Rows of rings between two numbers that were put on and are in no string, by number."""
    rising = used_in(rings, key, low, high)
    return [i for i in rising if not rings.issued_at((key, int(rings.serial[i])))]


def as_written(case: Case, string: IssuedString, name: str, ring: str) -> str:
    """Write an end as the table does: the prefix may have a column of its own."""
    typed = bare(str(case.frame("ring_stock").loc[string.label, name]))
    return ring if typed.startswith(bare(string.stem)) else ring[-string.width :]

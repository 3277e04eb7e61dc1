"""Digits of a reader's display: seven segments, and which of them may be dead with the digit still told."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["SEGMENTS", "may_be_dead"]

#: Digit -> lit segments: a above, then clockwise b to f, g in the middle; 6 and 9 with their tails.
SEGMENTS: Mapping[str, str] = {
    "0": "abcdef",
    "1": "bc",
    "2": "abdeg",
    "3": "abcdg",
    "4": "bcfg",
    "5": "acdfg",
    "6": "acdefg",
    "7": "abc",
    "8": "abcdefg",
    "9": "abcdfg",
}


def may_be_dead(digit: str) -> str:
    """List the segments of a digit that may be dead so that no other digit is left, whole or with one dead.

    Examples
    --------
    >>> may_be_dead("8"), may_be_dead("2")
    ('acdf', 'abdg')
    """
    return "".join(segment for segment in SEGMENTS[digit] if _is_told(SEGMENTS[digit].replace(segment, "")))


def _is_told(lit: str) -> bool:
    left = set(lit)
    readings = [
        digit
        for digit, whole in SEGMENTS.items()
        if left == set(whole) or (left < set(whole) and len(whole) - len(left) == 1)
    ]
    return len(readings) == 1

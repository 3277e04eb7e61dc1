"""Strings of one series that share rings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.models.ring_number import join_ring
from audit.rules.case import At

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding
    from audit.rules.case import Case
    from audit.rules.ring_rows import Key, Ringings
    from audit.rules.stock import IssuedString

__all__ = ["ask_of_overlaps"]


def ask_of_overlaps(case: Case, rings: Ringings) -> Iterator[Finding]:
    """Strings of one series that share rings."""
    by_key: dict[Key, list[IssuedString]] = {}
    for string in rings.stock:
        if not string.fault:
            by_key.setdefault(string.key, []).append(string)
    for key in sorted(by_key):
        reach: IssuedString | None = None
        for string in sorted(by_key[key], key=lambda s: (s.first, -s.last, s.label)):
            if reach is not None and string.first <= reach.last:
                yield _overlap(case, reach, string)
            if reach is None or string.last > reach.last:
                reach = string


def _overlap(case: Case, one: IssuedString, other: IssuedString) -> Finding:
    low, high = other.first, min(one.last, other.last)
    names = [join_ring(one.stem, n, one.width) for n in dict.fromkeys((low, high))]
    rings = f"Ring {names[0]} is" if low == high else f"Rings {names[0]} to {names[-1]} are"
    message = f"{rings} in two strings as issued: {one} and {other}."
    if other.last <= one.last and one.holder.casefold() != other.holder.casefold():
        # the rest of a string may have been handed on to another ringer
        return case.blame("part_twice", [At(other.label, "first")], message, [(one.label, "first")])
    even = case.limit("p_even")
    cells = [(one.label, "last"), (other.label, "first")]
    if one.first == other.first:
        cells = [(one.label, "first"), (other.label, "first")]
    return case.blame("strings_overlap", [At(*cell, "", even) for cell in cells], message)

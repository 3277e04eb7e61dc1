"""The rows of a visit and the reads of the hand reader, laid level with one another."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.findings import Severity

__all__ = ["Beside", "ReadTag", "TypedTag", "differing", "levels"]


@dataclass(frozen=True, slots=True)
class TypedTag:
    """One row of the sheet.

    Attributes
    ----------
    label : str
        Row label.
    box, ring, tag : str
        As typed; empty where nothing was.
    severity : {'error', 'suspect'} or None
        Of the gravest finding on the tag.
    message : str
        What it says.
    meant : str
        The tag that was probably meant, where a finding says so.
    """

    label: str
    box: str
    ring: str
    tag: str
    severity: Severity | None = None
    message: str = ""
    meant: str = ""


@dataclass(frozen=True, slots=True)
class ReadTag:
    """One read.

    Attributes
    ----------
    tag : str
        As the reader stored it.
    clock : str
        Time of day, the clock of the reader set right.
    stored : str
        Day and time as stored, where the clock had to be set right.
    remark : str
        Such as ``read again``; empty where there is nothing to say.
    """

    tag: str
    clock: str
    stored: str = ""
    remark: str = ""


@dataclass(frozen=True, slots=True)
class Beside:
    """The sheet and the download side by side.

    Attributes
    ----------
    name : str
        Day, or day and box.
    rows : tuple of TypedTag
        In the order of the sheet.
    reads : tuple of ReadTag
        In time order.
    pairs : mapping of int to int
        Position of a row to that of its read.
    remarks : tuple of str
        What else there is to say, such as how the clock went.
    """

    name: str
    rows: tuple[TypedTag, ...]
    reads: tuple[ReadTag, ...]
    pairs: Mapping[int, int]
    remarks: tuple[str, ...] = ()


def levels(beside: Beside) -> list[tuple[int | None, int | None]]:
    """Lay rows and reads level: those that belong together share one, as far as both orders allow.

    Returns
    -------
    list of (row, read)
        From top to bottom; None where a level has only one of them. Every row and every read stands once,
        rows in the order of the sheet, reads in the order of time.
    """
    made: list[tuple[int | None, int | None]] = []
    row = read = 0
    for at, to in (*_level_pairs(beside.pairs), (len(beside.rows), len(beside.reads))):
        made += [(one, None) for one in range(row, at)]
        made += [(None, one) for one in range(read, to)]
        made.append((at, to))
        row, read = at + 1, to + 1
    return made[:-1]


def _level_pairs(pairs: Mapping[int, int]) -> list[tuple[int, int]]:
    """Find the most pairs that stand in the same order on both sides: a longest rising run."""
    ends: list[int] = []
    holders: list[int] = []
    before: dict[int, int | None] = {}
    for row in sorted(pairs):
        place = bisect_left(ends, pairs[row])
        before[row] = holders[place - 1] if place else None
        if place == len(ends):
            ends.append(pairs[row])
            holders.append(row)
        else:
            ends[place] = pairs[row]
            holders[place] = row
    run = []
    at: int | None = holders[-1] if holders else None
    while at is not None:
        run.append((at, pairs[at]))
        at = before[at]
    return run[::-1]


def differing(one: str, other: str) -> tuple[frozenset[int], frozenset[int]]:
    """Find the places in which two codes differ.

    Returns
    -------
    (frozenset of int, frozenset of int)
        Positions in `one` and in `other`.

    Examples
    --------
    >>> [sorted(places) for places in differing("99910461430", "99910468430")]
    [[7], [7]]
    >>> [sorted(places) for places in differing("9991041", "99901041")]
    [[], [3]]
    """
    if len(one) == len(other):
        places = frozenset(i for i, (a, b) in enumerate(zip(one, other, strict=True)) if a != b)
        return places, places
    in_one: set[int] = set()
    in_other: set[int] = set()
    for kind, a, b, c, d in SequenceMatcher(None, one, other, autojunk=False).get_opcodes():
        if kind != "equal":
            in_one.update(range(a, b))
            in_other.update(range(c, d))
    return frozenset(in_one), frozenset(in_other)

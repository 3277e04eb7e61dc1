"""A column of the handlings beside the rows that its cells may belong to, and what a slide would leave."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.rules.sheet_order import NO_DAY, days_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from audit.rules.case import Case

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Ints = NDArray[np.int64]

__all__ = ["OFFSETS", "SlidColumn", "Slots", "slots_of", "with_ends", "within"]

#: Where a cell's value may belong: so many rows further down.
OFFSETS: tuple[int, ...] = (-1, 1)

_PLACES: Mapping[str, tuple[str, ...]] = {"handlings": ("date", "box")}


@dataclass(frozen=True, slots=True)
class Slots:
    """The rows of the handlings, in sheet order.

    Attributes
    ----------
    labels : list of str
    sheet, visit : ndarray of int, shape (n,)
        Which sheet, and which run of rows of one box and day; neighbours differ where a new one begins.
    day : ndarray of int, shape (n,)
        Days since 1970; the smallest integer where missing.
    number : ndarray of int, shape (n,)
        Row of the spreadsheet.
    """

    labels: list[str]
    sheet: Ints
    visit: Ints
    day: Ints
    number: Ints

    def follows(self, offset: int) -> Flags:
        """Whether there is a row so many rows further down, on the same sheet and without a gap."""
        n, step = len(self.labels), abs(offset)
        there = np.zeros(n, dtype=bool)
        if n > step:
            upper, lower = slice(None, n - step), slice(step, None)
            beside = self.sheet[upper] == self.sheet[lower]
            beside &= self.number[lower] - self.number[upper] == step
            there[upper if offset > 0 else lower] = beside
        return there


@dataclass(frozen=True, slots=True)
class SlidColumn:
    """How well the cells of one column fit their own rows, and those above and below.

    Attributes
    ----------
    field : str
    texts : sequence of str or float
        What stands in each cell; empty, or not a number, where nothing does.
    stays : ndarray, shape (n,)
        Log likelihood of each cell in its own row.
    fits : ndarray, shape (n, 2)
        The same in the row above, and in the row below.
    opens, closes : ndarray, shape (n, 2)
        Log weight of a block that begins, or ends, with each cell.
    lost : mapping of int to str
        What probably belongs to a row, should its value have been lost.
    ties : sequence of tuple of str
        What each row has in common with others that a slide elsewhere would contradict too.
    """

    field: str
    texts: Sequence[object]
    stays: Floats
    fits: Floats
    opens: Floats
    closes: Floats
    lost: Mapping[int, str]
    ties: Sequence[tuple[str, ...]]


def slots_of(case: Case) -> Slots:
    """Lay out the rows of the handlings."""
    return case.lay_out(_lay_out, _PLACES)


def _lay_out(case: Case) -> Slots:
    frame = case.sure("handlings")
    labels = [str(label) for label in frame.index]
    parts = [label.rpartition("!") for label in labels]
    names = {name: i for i, name in enumerate(dict.fromkeys(part[0] for part in parts))}
    day = days_of(frame["date"])
    box = frame["box"].fillna("").to_numpy(dtype=object)
    new = np.ones(len(labels), dtype=bool)
    new[1:] = (day[1:] != day[:-1]) | (box[1:] != box[:-1]) | (day[1:] == NO_DAY)
    return Slots(
        labels,
        np.array([names[part[0]] for part in parts], dtype=np.int64),
        np.cumsum(new),
        day,
        np.array([int(part[2]) if part[2].isdecimal() else -1 for part in parts], dtype=np.int64),
    )


def with_ends(
    case: Case,
    slots: Slots,
    *,
    empty: Flags,
    same: Flags,
    missing: Floats,
    doubled: Floats,
    lost: Floats,
) -> tuple[Floats, Floats]:
    """Weigh where blocks may begin and end: by what a slide leaves behind there, and what it pushes out.

    Parameters
    ----------
    empty : ndarray of bool, shape (n,)
        Cells with nothing in them.
    same : ndarray of bool, shape (n,)
        Cells that repeat the one above.
    missing, doubled : ndarray, shape (n,)
        Log probability that a cell is empty, or repeats the one above, were there no slide.
    lost : ndarray, shape (n,)
        Log ratio for the value of a row being nowhere in its column.

    Returns
    -------
    opens, closes : ndarray, shape (n, 2)
        Blocks whose cells belong one row up, and one row down.
    """
    n = len(empty)
    traces = np.log([float(case.limit(name)) for name in ("left_empty", "left_doubled", "left_other")])

    def trace(cell: Ints, repeats: Ints) -> Floats:
        """Weigh what was left behind in a cell, if it repeats or is repeated by the moved cell beside it."""
        found = np.full(n, traces[2])
        found = np.where(same[repeats], traces[1] - doubled[repeats], found)
        return np.where(empty[cell], traces[0] - missing[cell], found)

    above = np.maximum(np.arange(n) - 1, 0)
    below = np.minimum(np.arange(n) + 1, max(n - 1, 0))
    begins = np.log(case.limit("begins"))
    ends = np.full(n, np.log(case.limit("ends_anywhere")))
    if n:
        last_of_visit = np.r_[slots.visit[1:] != slots.visit[:-1], True]
        last_of_day = np.r_[slots.day[1:] != slots.day[:-1], True]
        ends[last_of_visit] = np.log(case.limit("ends_with_visit"))
        ends[last_of_day] = np.log(case.limit("ends_with_day"))
    ends_below = ends[below]
    opens = np.column_stack([begins + trace(above, np.arange(n)), begins + lost])
    closes = np.column_stack([ends + lost, ends_below + trace(below, below)])
    return opens, closes


def within(odd: Flags, reach: int) -> Flags:
    """Rows no further than so many from an odd one.

    Examples
    --------
    >>> import numpy as np
    >>> within(np.array([False, False, True, False, False]), 1).tolist()
    [False, True, True, True, False]
    """
    n = len(odd)
    steps = np.zeros(n + 1, dtype=np.int64)
    rows = np.flatnonzero(odd)
    np.add.at(steps, np.maximum(rows - reach, 0), 1)
    np.add.at(steps, np.minimum(rows + reach + 1, n), -1)
    near: Flags = np.cumsum(steps[:n]) > 0
    return near

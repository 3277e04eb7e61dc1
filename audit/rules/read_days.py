"""The reads of one day beside its rows: anchors that both have, and how near each read stands to a row."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from audit.rules.tag_book import TagRow

    Ints = NDArray[np.int64]

__all__ = ["ELSEWHERE", "IN_PLACE", "IN_VISIT", "ReadDay", "RowsLeft", "day_of_reads"]

#: How well a read stands where a row does.
ELSEWHERE, IN_VISIT, IN_PLACE = 0, 1, 2


@dataclass(frozen=True, slots=True)
class RowsLeft:
    """Rows of a day without a read of their own, by label, and how near each tag was read: rows by tags."""

    rows: Mapping[str, int]
    steps: NDArray[np.int8]


@dataclass(frozen=True)
class ReadDay:
    """The anchors of a day.

    Attributes
    ----------
    at : mapping of str to int
        Tag to the place of its first read in the order of the day.
    read_visit : tuple of (int, str)
        Place and box of each anchor, in the order of reading.
    rows : mapping of str to list of (int, int)
        Box to (place in the sheet, place of the read) of its anchors, in sheet order.
    """

    at: Mapping[str, int]
    read_visit: tuple[tuple[int, str], ...]
    rows: Mapping[str, Sequence[tuple[int, int]]]

    @cached_property
    def number(self) -> Mapping[str, int]:
        """Tag to its number among the tags of the day."""
        return {key: i for i, key in enumerate(self.at)}

    @cached_property
    def _steps(self) -> dict[tuple[str, int], list[int]]:
        return {}

    @cached_property
    def _between(self) -> dict[tuple[str | None, int, int], list[int]]:
        return {}

    @cached_property
    def _boxes(self) -> Mapping[str, int]:
        return {box: i for i, box in enumerate(self.rows)}

    @cached_property
    def _around(self) -> tuple[Ints, Ints, Ints]:
        """Places of all tags, and numbers of the boxes read before and after each; -1 for none."""
        read = np.array(list(self.at.values()), dtype=np.int64)
        places = np.array([place for place, _ in self.read_visit], dtype=np.int64)
        boxes = np.array([-1, *(self._boxes[box] for _, box in self.read_visit), -1], dtype=np.int64)
        return (
            read,
            boxes[np.searchsorted(places, read, side="left")],
            boxes[np.searchsorted(places, read, side="right") + 1],
        )

    def steps(self, row: TagRow) -> Sequence[int]:
        """Say of every tag of the day how well it was read where a row stands."""
        at = (row.box, row.place)
        if at not in self._steps:
            own = self.rows.get(row.box, ())
            low, high = bisect_left(own, row.place, key=_first), bisect_right(own, row.place, key=_first)
            # rows between the same anchors share what is said
            key = (row.box if own else None, low, high)
            if key not in self._between:
                self._between[key] = self._weigh(row.box, own, low, high)
            self._steps[at] = self._between[key]
        return self._steps[at]

    def _weigh(self, box: str, own: Sequence[tuple[int, int]], low: int, high: int) -> list[int]:
        read, before, after = self._around
        if not own:
            # nothing of its box was read: between two others, or at either end
            between = (before != after) | (before < 0)
            return list(np.where(between, IN_VISIT, ELSEWHERE).tolist())
        beside = (before == self._boxes[box]) | (after == self._boxes[box])
        fits = np.ones(len(read), dtype=bool)
        if low:
            fits &= own[low - 1][1] < read
        if high < len(own):
            fits &= read < own[high][1]
        return list(np.where(beside, np.where(fits, IN_PLACE, IN_VISIT), ELSEWHERE).tolist())

    def place_of(self, row: TagRow, key: str) -> int:
        """Say how well a tag was read where a row stands."""
        return self.steps(row)[self.number[key]] if key in self.number else ELSEWHERE


def _first(pair: tuple[int, object]) -> int:
    return pair[0]


def day_of_reads(first: Mapping[str, int], met: Sequence[tuple[str, TagRow]]) -> ReadDay:
    """Gather the anchors of a day.

    Parameters
    ----------
    first : mapping of str to int
        Tag to the place of its first read.
    met : sequence of (str, TagRow)
        Tags that stand on a row of the day, too.
    """
    rows: dict[str, list[tuple[int, int]]] = defaultdict(list)
    for key, row in sorted(met, key=lambda one: one[1].place):
        rows[row.box].append((row.place, first[key]))
    return ReadDay(first, tuple(sorted((first[key], row.box) for key, row in met)), rows)

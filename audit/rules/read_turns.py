"""Whose turn it was when a tag was read: reads of a day beside the rows of that day."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property
from operator import itemgetter
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from audit.rules.tag_rows import TagRow

__all__ = ["ReadTurns"]


@dataclass(frozen=True)
class ReadTurns:
    """Rows with a sure tag in sheet order, and the reads of their days in time order.

    Attributes
    ----------
    rows : sequence of TagRow
    read_place : mapping of (str, str) to int
        Day and key to the place of its first read among all reads.
    """

    rows: Sequence[TagRow]
    read_place: Mapping[tuple[str, str], int]

    @cached_property
    def _turns(self) -> Mapping[str, tuple[list[int], list[int]]]:
        """Places of rows in the sheet and of their reads, by day, where the tag was read that day."""
        found: dict[str, tuple[list[int], list[int]]] = defaultdict(lambda: ([], []))
        for row in self.rows:
            place = self.read_place.get((row.day, row.key))
            if place is not None:
                found[row.day][0].append(row.place)
                found[row.day][1].append(place)
        return found

    @cached_property
    def _in_time(self) -> Mapping[str, tuple[list[int], list[str]]]:
        """Places and keys of the tags read on each day, in the order of their first reads."""
        found: dict[str, tuple[list[int], list[str]]] = defaultdict(lambda: ([], []))
        for (day, key), place in sorted(self.read_place.items(), key=itemgetter(1)):
            found[day][0].append(place)
            found[day][1].append(key)
        return dict(found)

    def between(self, row: TagRow, keys: Collection[str], through: TagRow | None = None) -> list[str]:
        """List those of some tags that were read between the tags of the rows above and below, in that order.

        Parameters
        ----------
        through : TagRow, optional
            The last row of a run that begins with `row`.
        """
        places, read = self._in_time.get(row.day, ([], []))
        rows, reads = self._turns.get(row.day, ([], []))
        above = bisect_left(rows, row.place)
        below = bisect_right(rows, (through or row).place)
        first = bisect_right(places, reads[above - 1]) if above else 0
        end = bisect_left(places, reads[below]) if below < len(rows) else len(places)
        return [key for key in read[first:end] if key in keys]

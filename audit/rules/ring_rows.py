"""The rings of a season's handlings as series and serial numbers, and how they stand to each other."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from audit.models.ring_number import bare, ring_slip, split_ring
from audit.models.sequence import follows_neighbours, has_mate
from audit.rules.numbered import number_rows
from audit.rules.sheet_order import NO_DAY

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from audit.rules.stock import IssuedString

__all__ = ["Key", "Ringings"]

#: A series: the stem without separators, and the number of digits.
Key = tuple[str, int]


@dataclass(frozen=True)
class Ringings:
    """Rings of the handlings in sheet order; one entry per row in every array.

    Attributes
    ----------
    labels, ring, box : array of str
        Row label; number and box as understood, empty where missing or in doubt.
    stem : array of str
        What stands in front of the serial number, as typed.
    key : list of (str, int)
        Series of each row.
    serial : array of int
        Serial number; -1 where there is none.
    day : array of int
        Day as days since 1970; the smallest integer where missing.
    visit : array of int
        Rows of one box and day share a number; -1 where either is missing.
    first : array of bool
        First ringings: by their event, or, without one, the earliest row of a ring in its box.
    event : array of str
        ``ringed``, ``re-encountered`` or empty.
    age, ringer : array of str
        Age code and initials, empty where not given.
    """

    labels: NDArray[np.object_]
    ring: NDArray[np.object_]
    box: NDArray[np.object_]
    stem: NDArray[np.object_]
    key: list[Key]
    serial: NDArray[np.int64]
    day: NDArray[np.int64]
    visit: NDArray[np.int64]
    first: NDArray[np.bool_]
    event: NDArray[np.object_]
    age: NDArray[np.object_]
    ringer: NDArray[np.object_]
    stock: tuple[IssuedString, ...]
    lost: frozenset[tuple[Key, int]]
    reach: int
    own_least: int
    order_share: float
    tip_days: int
    brood_days: int
    string_length: int
    declared: Mapping[Key, str]
    look_alikes: Mapping[int, str]
    pullus_codes: frozenset[str] = frozenset()

    @cached_property
    def used(self) -> dict[tuple[Key, int], list[int]]:
        """Rows of first ringings by series and serial number."""
        used: dict[tuple[Key, int], list[int]] = {}
        for i in np.flatnonzero(self.first & (self.serial >= 0)).tolist():
            used.setdefault((self.key[i], int(self.serial[i])), []).append(i)
        return used

    @cached_property
    def of_series(self) -> dict[Key, NDArray[np.int64]]:
        """Rows of first ringings by series, in sheet order."""
        rows: dict[Key, list[int]] = {}
        for i in np.flatnonzero(self.first & (self.serial >= 0)).tolist():
            rows.setdefault(self.key[i], []).append(i)
        return {key: np.array(which, dtype=np.int64) for key, which in rows.items()}

    @cached_property
    def own(self) -> dict[Key, str]:
        """Series of this season, declared, issued or in use, and how their stems are written."""
        written: dict[Key, str] = {
            string.key: string.stem for string in self.stock if not string.fault and string.width
        }
        written |= self.declared
        for key, rows in self.of_series.items():
            if rows.size >= self.own_least or key in written:
                stems, counts = np.unique(self.stem[rows].astype(str), return_counts=True)
                written[key] = str(stems[counts.argmax()])
        return written

    @cached_property
    def snug(self) -> NDArray[np.bool_]:
        """First ringings whose number comes right before or after that of another bird of the visit."""
        beside = np.zeros(len(self.labels), dtype=bool)
        for rows in self.of_series.values():
            beside[rows] = has_mate(self.serial[rows], self.visit[rows], 1)
        return beside

    @cached_property
    def running(self) -> frozenset[Key]:
        """Series of this season that are used in order: most rings stand next to others of their time."""
        return frozenset(
            key
            for key in self.own
            if (rows := self.of_series.get(key)) is None
            or key in self.told
            or self.at_home[rows].sum() >= self.order_share * rows.size
        )

    @cached_property
    def strings(self) -> dict[Key, list[IssuedString]]:
        """Strings issued, in the order of the stock, by series."""
        found: dict[Key, list[IssuedString]] = {}
        for string in self.stock:
            found.setdefault(string.key, []).append(string)
        return found

    @cached_property
    def told(self) -> frozenset[Key]:
        """Series that are declared or issued."""
        return frozenset(self.declared) | {string.key for string in self.stock if not string.fault}

    @cached_property
    def rows_of_visit(self) -> dict[int, list[int]]:
        """Rows by visit."""
        rows: dict[int, list[int]] = {}
        for i, visit in enumerate(self.visit.tolist()):
            if visit >= 0:
                rows.setdefault(visit, []).append(i)
        return rows

    @cached_property
    def rows_of_box(self) -> dict[str, list[int]]:
        """Rows by box."""
        rows: dict[str, list[int]] = {}
        for i, box in enumerate(self.box.tolist()):
            if box:
                rows.setdefault(box, []).append(i)
        return rows

    @cached_property
    def rows_of_ring(self) -> dict[str, list[int]]:
        """Rows by ring, separators left out."""
        rows: dict[str, list[int]] = {}
        for i, ring in enumerate(self.ring.tolist()):
            if ring:
                rows.setdefault(bare(ring), []).append(i)
        return rows

    @cached_property
    def written(self) -> dict[str, str]:
        """Rings as they stand in the sheet, by their number without separators."""
        return {bare(ring): ring for ring in self.ring.tolist() if ring}

    @cached_property
    def at_home(self) -> NDArray[np.bool_]:
        """First ringings that stand next to a ring of their box and year, or in time with the string."""
        home = np.zeros(len(self.labels), dtype=bool)
        year = np.where(self.day == NO_DAY, 0, self.day).astype("datetime64[D]").astype("datetime64[Y]")
        place = number_rows([pd.factorize(one)[0].astype(np.int64) for one in (self.box, year)])
        place = np.where((self.box == "") | (self.day == NO_DAY), -1, place)
        for rows in self.of_series.values():
            dated = rows[self.day[rows] != NO_DAY]
            home[dated] |= follows_neighbours(self.serial[dated], self.day[dated], self.reach)
            home[rows] |= has_mate(self.serial[rows], np.asarray(place[rows], dtype=np.int64), self.reach)
        return home

    @cached_property
    def from_elsewhere(self) -> NDArray[np.bool_]:
        """Birds that may bear anybody's ring: no nestlings, and met again, or of no event and out of line.

        Nothing tells what such a ring has to look like but its form.
        """
        again = (self.event == "re-encountered") & (self.grown | (self.age == ""))
        untold = (self.event == "") & self.grown
        # where full-grown birds are the ones that get rings, one out of line got one, too
        strange = untold & ~self.at_home & (self.at_home[untold].sum() * 2 <= untold.sum())
        return np.asarray(again | strange, dtype=bool)

    @cached_property
    def grown(self) -> NDArray[np.bool_]:
        """Rows whose age code is that of a full-grown bird."""
        return np.array(
            [bool(code) and code.upper() not in self.pullus_codes for code in self.age], dtype=bool
        )

    @cached_property
    def in_time(self) -> dict[Key, tuple[list[tuple[int, int]], NDArray[np.int64]]]:
        """First ringings of each own series in order of day and sheet."""
        ordered = {}
        for key in self.running:
            rows = self.of_series.get(key, np.zeros(0, dtype=np.int64))
            rows = rows[self.day[rows] != NO_DAY]
            rows = rows[np.lexsort((rows, self.day[rows]))]
            ordered[key] = (list(zip(self.day[rows].tolist(), rows.tolist(), strict=True)), rows)
        return ordered

    def mates(self, i: int) -> list[int]:
        """Other rows of the same visit."""
        return [j for j in self.rows_of_visit.get(int(self.visit[i]), ()) if j != i]

    def issued_at(self, at: tuple[Key, int]) -> bool:
        """Whether the stock holds a ring."""
        return self.string_at(at) is not None

    def string_at(self, at: tuple[Key, int]) -> IssuedString | None:
        """Find the first string of the stock that holds a ring."""
        return next((string for string in self.strings.get(at[0], ()) if string.spans(at[1])), None)

    def belongs(self, i: int, rows: Sequence[int]) -> bool:
        """Whether the ring of a row continues those put on in other rows, or was put on in their box."""
        if self.serial[i] < 0 or not rows:
            return False
        if self.first[i]:
            return any(
                self.key[j] == self.key[i] and 0 < abs(int(self.serial[j] - self.serial[i])) <= self.reach
                for j in rows
                if self.first[j]
            )
        home = self.box[rows[0]]
        return any(self.box[j] == home and j != i for j in self.rows_of_ring.get(bare(self.ring[i]), ()))

    def slip(self, meant: str, typed: str, *, two: bool = False) -> str:
        """Name the slip that turns one ring number into another; empty when there is none."""
        return ring_slip(meant, typed, self.look_alikes, two=two)

    def between_neighbours(self, i: int, ring: str) -> bool:
        """Whether a number lies between those of the rows above and below, where they are of its series."""
        stem, digits = split_ring(ring)
        key, serial = (bare(stem), len(digits)), int(digits or -1)
        above, below = i - 1, i + 1
        if above >= 0 and self.key[above] == key and 0 <= self.serial[above] >= serial:
            return False
        return not (below < len(self.labels) and self.key[below] == key and 0 <= self.serial[below] <= serial)

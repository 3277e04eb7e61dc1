"""The rings of a season as series and serial numbers, and the number that was to be expected in a row."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from enum import IntEnum
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from audit.models.ring_number import (
    CLAUSES,
    bare,
    join_ring,
    look_alike_table,
    ring_slip,
    split_ring,
)
from audit.models.sequence import follows_neighbours, has_mate, slot_of
from audit.rules.heeded import RINGINGS
from audit.rules.numbered import numbered
from audit.rules.stock import IssuedString, issued_strings

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from audit.rules.case import Case

__all__ = ["Expected", "Fit", "Key", "Mend", "Ringings", "ringings_of"]

#: A series: the stem without separators, and the number of digits.
Key = tuple[str, int]

_NO_DAY = np.iinfo(np.int64).min


class Fit(IntEnum):
    """How well an unused ring fits into a row.

    ``TIP``: it only comes next in time. ``BESIDE``: it stands beside a ring of the same visit, or between two
    that were used before and after this day. ``BETWEEN``: it stands between two used rings, one of
    them of the same visit.
    """

    TIP = 1
    BESIDE = 2
    BETWEEN = 3


@dataclass(frozen=True, slots=True)
class Expected:
    """A ring that could have been in a row.

    Attributes
    ----------
    ring : str
        Its number.
    fit : Fit
        How well it fits.
    beside : tuple of int
        Rows of the rings just below and above.
    """

    ring: str
    fit: Fit
    beside: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Mend:
    """The one expected ring that a single slip turns into what was typed."""

    expected: Expected
    kind: str

    @property
    def clause(self) -> str:
        """Say what the slip was."""
        return CLAUSES[self.kind]

    @property
    def ring(self) -> str:
        """The ring that was probably meant."""
        return self.expected.ring


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
        year = np.where(self.day == _NO_DAY, 0, self.day).astype("datetime64[D]").astype("datetime64[Y]")
        place = numbered(pd.DataFrame({"box": self.box, "year": year}), ["box", "year"])
        place = np.where((self.box == "") | (self.day == _NO_DAY), -1, place)
        for rows in self.of_series.values():
            dated = rows[self.day[rows] != _NO_DAY]
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
    def _in_time(self) -> dict[Key, tuple[list[tuple[int, int]], NDArray[np.int64]]]:
        """First ringings of each own series in order of day and sheet."""
        ordered = {}
        for key in self.running:
            rows = self.of_series.get(key, np.zeros(0, dtype=np.int64))
            rows = rows[self.day[rows] != _NO_DAY]
            rows = rows[np.lexsort((rows, self.day[rows]))]
            ordered[key] = (list(zip(self.day[rows].tolist(), rows.tolist(), strict=True)), rows)
        return ordered

    def mates(self, i: int) -> list[int]:
        """Other rows of the same visit."""
        return [j for j in self.rows_of_visit.get(int(self.visit[i]), ()) if j != i]

    def expected(self, i: int) -> list[Expected]:
        """List the rings that could have been in a row.

        At a first ringing: unused numbers next to those of the same visit and to the last and next ones of
        each series, as far as day of use and string agree. At a later encounter: the rings of the same box
        that are missing from this visit.
        """
        found: dict[tuple[Key, int], Expected] = {}
        if self.event[i] != "re-encountered":
            for j in self._beside(i):
                for step in (-1, 1):
                    number = int(self.serial[j]) + step
                    at = (self.key[j], number)
                    if at not in found and at[0] in self.running:
                        fit, beside = self._fit(i, at)
                        if fit:
                            ring = join_ring(self.own[at[0]], number, at[0][1])
                            found[at] = Expected(ring, fit, beside)
        for j in self._absent_siblings(i):
            at = (self.key[j], int(self.serial[j]))
            if at not in found:
                found[at] = Expected(str(self.ring[j]), Fit.BESIDE, (j,))
        return sorted(found.values(), key=lambda expected: (-expected.fit, expected.ring))

    def _absent_siblings(self, i: int) -> Iterator[int]:
        """Rows of birds of the same brood that were in the hand at other visits but not at this one."""
        if self.event[i] == "ringed" or self.visit[i] < 0:
            return
        mates = self.mates(i)
        here = {bare(self.ring[j]) for j in (*mates, i)}
        known = [
            j
            for j in self.rows_of_box.get(self.box[i], ())
            if self.ring[j]
            and self.visit[j] not in (-1, self.visit[i])
            and (self.age[j] == self.age[i] or not self.age[j] or not self.age[i])
            and abs(int(self.day[j]) - int(self.day[i])) <= self.brood_days
        ]
        if not self.event[i] and here.isdisjoint(bare(self.ring[j]) for j in known):
            return
        for j in known:
            # a ring that is itself out of line is no sibling's
            in_line = self.at_home[j] or not self.first[j]
            if bare(self.ring[j]) not in here and self.serial[j] >= 0 and in_line:
                yield j

    def _beside(self, i: int) -> Iterator[int]:
        """Rows whose rings come just before or after the one of a row."""
        yield from (j for j in self.mates(i) if self.first[j] and self.serial[j] >= 0)
        day = int(self.day[i])
        if day == _NO_DAY:
            return
        for moments, rows in self._in_time.values():
            place = bisect_left(moments, (day, i))
            near = [j for j in rows[max(place - 2, 0) : place + 2].tolist() if j != i]
            yield from (j for j in near if abs(int(self.day[j]) - day) <= self.tip_days)

    def _fit(self, i: int, at: tuple[Key, int]) -> tuple[Fit | None, tuple[int, ...]]:
        key, number = at
        if number < 0 or len(str(number)) > key[1] or at in self.used or at in self.lost:
            return None, ()
        if self.stock and any(s.key == key for s in self.stock) and not self.issued_at(at):
            return None, ()
        lower = self._users(i, (key, number - 1))
        higher = self._users(i, (key, number + 1))
        visit, day = int(self.visit[i]), int(self.day[i])
        mates = [j for j in (*lower, *higher) if visit >= 0 and self.visit[j] == visit]
        if not mates:
            if lower and all(self.day[j] > day for j in lower):
                return None, ()
            if higher and all(self.day[j] < day for j in higher):
                return None, ()
        beside = tuple(dict.fromkeys((*mates, *lower[:1], *higher[:1])))
        if lower and higher:
            return (Fit.BETWEEN if mates else Fit.BESIDE), beside
        if not mates:
            return Fit.TIP, beside
        # the string may have ended at the neighbour: then nothing tells which one came next
        across = any(not self._one_string(key, number, int(self.serial[j])) for j in mates)
        return (Fit.TIP if across else Fit.BESIDE), beside

    def _one_string(self, key: Key, one: int, other: int) -> bool:
        """Whether two rings are used one after the other: from one string, or from two of one holder."""
        strings = [next((s for s in self.stock if s.holds(key, number)), None) for number in (one, other)]
        if strings[0] is None or strings[1] is None:
            return slot_of(one, self.string_length) == slot_of(other, self.string_length)
        return strings[0] is strings[1] or strings[0].holder == strings[1].holder != ""

    def _users(self, i: int, at: tuple[Key, int]) -> list[int]:
        return [j for j in self.used.get(at, ()) if j != i]

    def issued_at(self, at: tuple[Key, int]) -> bool:
        """Whether the stock holds a ring."""
        return any(string.holds(*at) for string in self.stock)

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

    def mend(
        self,
        i: int,
        typed: str,
        *,
        least: Fit = Fit.BESIDE,
        among: Sequence[Expected] | None = None,
        two: bool = False,
    ) -> Mend | None:
        """Find the one expected ring that a single slip turns into what was typed.

        Parameters
        ----------
        i : int
            Row.
        typed : str
            What stands there.
        least : Fit
            Smallest fit.
        among : sequence of Expected, optional
            Instead of ``expected(i)``.
        two : bool
            Whether two slips at once count, where no single one does.

        Returns
        -------
        Mend or None
            None when no expected ring, or more than one with the best fit, is a slip away.
        """
        candidates = self.expected(i) if among is None else among
        for both in (False, True)[: 1 + two]:
            reached = [
                Mend(expected, kind)
                for expected in candidates
                if expected.fit >= least and (kind := self.slip(expected.ring, typed, two=both))
            ]
            if reached:
                best = self.best(i, [mend.expected for mend in reached])
                return next((mend for mend in reached if mend.expected is best), None)
        return None

    def best(self, i: int, expected: Sequence[Expected]) -> Expected | None:
        """Choose the expected ring that fits best, by preference one from the string of the same ringer."""
        if not expected:
            return None
        fit = max(e.fit for e in expected)
        leading = [e for e in expected if e.fit == fit]
        if len(leading) > 1 and self.ringer[i]:
            leading = [e for e in leading if any(self.ringer[j] == self.ringer[i] for j in e.beside)]
        return leading[0] if len(leading) == 1 else None

    def between_neighbours(self, i: int, ring: str) -> bool:
        """Whether a number lies between those of the rows above and below, where they are of its series."""
        stem, digits = split_ring(ring)
        key, serial = (bare(stem), len(digits)), int(digits or -1)
        above, below = i - 1, i + 1
        if above >= 0 and self.key[above] == key and 0 <= self.serial[above] >= serial:
            return False
        return not (below < len(self.labels) and self.key[below] == key and 0 <= self.serial[below] <= serial)


def ringings_of(case: Case, mended: Mapping[str, str] | None = None) -> Ringings:
    """Read rings, days, boxes and events of the handlings; cells already in doubt count as missing.

    Parameters
    ----------
    case : Case
    mended : mapping of str to str, optional
        Rings to be read instead of what stands in a row, by row label.
    """
    return _lay_out(case, mended) if mended else case.lay_out(_lay_out, RINGINGS)


def _lay_out(case: Case, mended: Mapping[str, str] | None = None) -> Ringings:
    frame = case.sure("handlings")
    limits = case.declared.rings.limits
    ring = frame["ring"].copy()
    for label, text in (mended or {}).items():
        ring[label] = text
    names = ring.fillna("").to_numpy(dtype=object)
    parts = [split_ring(text) for text in names.tolist()]
    stem = np.array([front for front, _ in parts], dtype=object)
    digits = np.array([number for _, number in parts], dtype=object)
    written = [(bare(front), len(number)) for front, number in parts]
    serial = np.array([_serial(d) for d in digits.tolist()], dtype=np.int64)
    date = frame["date"].to_numpy(dtype="datetime64[D]")
    day = np.where(np.isnat(date), _NO_DAY, date.astype(np.int64))
    blank = pd.Series("", index=frame.index, dtype="str")

    def texts(name: str) -> NDArray[np.object_]:
        column = frame[name].fillna("") if name in frame.columns else blank
        return np.asarray(column.to_numpy(dtype=object), dtype=object)

    event = texts("event")
    return Ringings(
        labels=frame.index.to_numpy(dtype=object),
        ring=names,
        box=frame["box"].fillna("").to_numpy(dtype=object),
        stem=stem,
        key=written,
        serial=serial,
        day=day.astype(np.int64),
        visit=numbered(frame, ["date", "box"], missing=False),
        first=_first_ringings(ring, event, day, frame["box"]),
        event=event,
        age=texts("age"),
        ringer=texts("ringer"),
        stock=issued_strings(case.season),
        lost=_lost(case),
        reach=int(limits["order.reach"].value),
        own_least=int(limits["order.own_least"].value),
        order_share=float(limits["order.share"].value),
        tip_days=int(limits["order.tip_days"].value),
        brood_days=int(limits["order.brood_days"].value),
        string_length=int(limits["string_length"].value),
        declared={
            (bare(series.prefix), series.digits): series.prefix
            for series in case.declared.rings.series.values()
        },
        look_alikes=look_alike_table(limits["look_alikes"].value),
        pullus_codes=frozenset(
            str(code) for code in case.declared.rules["growth"].limits["pullus_codes"].value
        ),
    )


def _serial(digits: str) -> int:
    number = int(digits or -1)
    return number if number <= np.iinfo(np.int64).max else -1


def _first_ringings(
    ring: pd.Series[str], event: NDArray[np.object_], day: NDArray[np.int64], box: pd.Series[str]
) -> NDArray[np.bool_]:
    told = event == "ringed"
    unknown = (event == "") & ring.notna().to_numpy()
    if not unknown.any():
        return np.asarray(told, dtype=bool)
    names = ring.fillna("").to_numpy(dtype=object)
    unknown &= ~np.isin(names.astype(str), names[told].astype(str))
    rows = np.flatnonzero(unknown)
    rows = rows[np.lexsort((rows, day[rows]))]
    pair = pd.DataFrame({"ring": names[rows], "box": box.fillna("").to_numpy(dtype=object)[rows]})
    first = np.array(told, dtype=bool)
    # an old bird may breed in another box than that of its ringing
    year = np.where(day == _NO_DAY, 0, day)[rows].astype("datetime64[D]").astype("datetime64[Y]")
    ringed_in = pd.Series(year).groupby(pair["ring"].to_numpy()).transform("min").to_numpy()
    first[rows[~pair.duplicated().to_numpy() & (year == ringed_in.astype(year.dtype))]] = True
    return first


def _lost(case: Case) -> frozenset[tuple[Key, int]]:
    if not case.season.has("ring_losses", "ring"):
        return frozenset()
    rings: Iterable[str] = case.sure("ring_losses")["ring"].dropna().astype(str)
    parts = [split_ring(ring) for ring in rings]
    return frozenset(((bare(stem), len(digits)), int(digits)) for stem, digits in parts if digits)

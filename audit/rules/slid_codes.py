"""Tags and rings beside the birds that they may belong to."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from audit.models.ring_number import bare, join_ring
from audit.models.time_of_day import minutes_of
from audit.rules.reader_clock import clocks_of
from audit.rules.sheet_order import NO_DAY
from audit.rules.slid_column import OFFSETS, SlidColumn, with_ends, within
from audit.rules.tag_keys import texts_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from audit.rules.case import Case
    from audit.rules.ring_rows import Key, Ringings
    from audit.rules.slid_column import Slots
    from audit.rules.tag_book import TagBook

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Ints = NDArray[np.int64]

__all__ = ["code_columns"]

#: Rows in which codes stand together, by the one and by the other.
Met = dict[str, dict[str, list[int]]]


def code_columns(case: Case, slots: Slots, rings: Ringings, book: TagBook | None) -> Iterator[SlidColumn]:
    """Lay tags and rings beside the birds of the rows around them."""
    sheet = _Sheet(case, slots, rings, book)
    if book is not None:
        yield sheet.column("tag")
    yield sheet.column("ring")


@dataclass(frozen=True)
class _Sheet:
    case: Case
    slots: Slots
    rings: Ringings
    book: TagBook | None

    @cached_property
    def ring(self) -> list[str]:
        """Bare rings in sheet order."""
        return [bare(str(ring)) for ring in self.rings.ring.tolist()]

    @cached_property
    def tag(self) -> list[str]:
        """Keys of the tags in sheet order."""
        keys = [""] * len(self.slots.labels)
        for row in () if self.book is None else self.book.rows:
            keys[row.place] = row.key
        return keys

    @cached_property
    def days(self) -> list[int]:
        """Days in sheet order."""
        return [int(day) for day in self.slots.day.tolist()]

    @cached_property
    def met(self) -> tuple[Met, Met, Met]:
        """Tags by ring, rings by tag, and boxes by ring, with the rows in which they stand together."""
        tags: Met = defaultdict(dict)
        rings: Met = defaultdict(dict)
        boxes: Met = defaultdict(dict)
        for i, (ring, tag) in enumerate(zip(self.ring, self.tag, strict=True)):
            if ring and tag:
                tags[ring].setdefault(tag, []).append(i)
                rings[tag].setdefault(ring, []).append(i)
            if ring and self.rings.box[i] and self.rings.age[i] in ("", "1"):
                boxes[ring].setdefault(str(self.rings.box[i]), []).append(i)
        return tags, rings, boxes

    def _elsewhen(self, met: Met, code: str, day: int, moved: range = range(0)) -> dict[str, list[int]]:
        """Find what a code stands with on other days, and where; rows that would move too tell nothing."""
        found = {}
        for other, rows in met.get(code, {}).items():
            where = [row for row in rows if self.days[row] != day and row not in moved]
            if where:
                found[other] = where
        return found

    # how a code goes with a row

    def column(self, field: str) -> SlidColumn:
        """Weigh every cell in its own row and in those beside it."""
        n = len(self.slots.labels)
        codes = self.tag if field == "tag" else self.ring
        likes = self._tag_fits if field == "tag" else self._ring_fits
        missing = self._missing(field, codes)
        written = np.log1p(-np.minimum(np.exp(missing), self._log["most"]))
        log = list(zip(missing.tolist(), written.tolist(), strict=True))
        stays = np.array([likes(i, i, log[i]) for i in range(n)], dtype=np.float64)
        empty = np.array([not code for code in codes], dtype=bool)
        stays = self._once_each(stays, ~empty)
        same = np.zeros(n, dtype=bool)
        same[1:] = [bool(code) and code == above for above, code in pairwise(codes)]
        # a slide leaves an odd cell behind, or cells that do not go with their rows
        near = within(same | (stays < self._log["odd"]), int(self.case.limit("look_far")))
        fits = np.full((n, len(OFFSETS)), -np.inf)
        for k, offset in enumerate(OFFSETS):
            for i in np.flatnonzero(self.slots.follows(offset) & near).tolist():
                fits[i, k] = likes(i, i + offset, log[i + offset])
        found = {i: self._lost(i, field) for i in np.flatnonzero(near).tolist()}
        lost = np.zeros(n)
        lost[list(found)] = [log for log, _ in found.values()]
        opens, closes = with_ends(
            self.case,
            self.slots,
            empty=empty,
            same=same,
            missing=missing,
            doubled=self._doubled(field, same),
            lost=lost,
        )
        return SlidColumn(
            field,
            self._texts(field),
            stays,
            fits,
            opens,
            closes,
            {i: text for i, (_, text) in found.items() if text},
            [tuple(filter(None, (ring, tag))) for ring, tag in zip(self.ring, self.tag, strict=True)],
        )

    def _texts(self, field: str) -> list[str]:
        if field == "ring":
            return [str(ring) for ring in self.rings.ring.tolist()]
        texts = [""] * len(self.slots.labels)
        for row in () if self.book is None else self.book.rows:
            texts[row.place] = row.tag
        return texts

    def _missing(self, field: str, codes: Sequence[str]) -> Floats:
        """Log probability that a cell is empty: by the kind of row, which is its series or its event."""
        kinds = [
            (self.rings.key[i] if field == "tag" else "", str(self.rings.event[i])) for i in range(len(codes))
        ]
        of, none = Counter(kinds), Counter(kind for kind, code in zip(kinds, codes, strict=True) if not code)
        weight, usual = self.case.limit("habit_weight"), self.case.limit("missing")
        # the one in question is no habit
        share = {
            kind: (max(none[kind] - 1, 0) + weight * usual) / (count - 1 + weight)
            for kind, count in of.items()
        }
        return np.log(np.array([share[kind] for kind in kinds], dtype=np.float64))

    def _slipped(self, log: float) -> float:
        """Log likelihood of a cell that may also hold a slip, which breaks all that it goes with at once."""
        return max(log, self._log["pair_broken"])

    def _once_each(self, stays: Floats, written: Flags) -> Floats:
        """Share the cost of one slip among the rows of a bird, one below the other, which it all spoils."""
        group: dict[int, int] = {}
        roots: dict[tuple[str, str], int] = {}
        for i in np.flatnonzero(written & (stays < self._log["odd"])).tolist():
            names = [(name, code) for name, code in (("ring", self.ring[i]), ("tag", self.tag[i])) if code]
            # no further than from its first row: else a whole slide would be one slip
            near = [roots[name] for name in names if name in roots and i - roots[name] <= self._beside]
            group[i] = near[0] if near else i
            if not near:
                roots.update(dict.fromkeys(names, i))
        found = stays.copy()
        worst: dict[int, float] = {}
        size = Counter(group.values())
        for i, root in group.items():
            worst[root] = min(worst.get(root, 0.0), float(stays[i]))
        for i, root in group.items():
            found[i] = worst[root] / size[root]
        return found

    def _doubled(self, field: str, same: Flags) -> Floats:
        """Log probability that a cell repeats the one above: a sheet may go from bird to bird."""
        weight = self.case.limit("habit_weight")
        usual = self.case.share(f"rates.{field}") * self.case.share("habits.copied")
        other_day = np.zeros(len(same), dtype=bool)
        other_day[1:] = np.diff(self.slots.day) != 0
        share: Floats = np.full(len(same), usual)
        of = int(other_day.sum())
        if of:
            # the one in question is no habit
            held = max(int((same & other_day).sum()) - 1, 0)
            share[other_day] = (held + weight * usual) / (of - 1 + weight)
        log: Floats = np.log(share)
        return log

    def _pair(self, i: int, j: int, field: str) -> float | None:
        """Log ratio of a code standing in a row, by other days; None where none tell.

        Rows beside it are of one slide with it: where it moves they hold what would have moved into them.
        """
        ring, tag = (self.ring[j], self.tag[i]) if field == "tag" else (self.ring[i], self.tag[j])
        if not ring and not tag:
            return None
        day, offset = self.days[j], j - i
        if not offset and len(with_ring := self.met[0].get(ring, {})) == 1 == len(self.met[1].get(tag, {})):
            # nothing else is known of either
            ((known, rows),) = with_ring.items()
            if known == tag:
                again = any(self.days[row] != day for row in rows)
                return self._log["pair_holds"] if again else None
        beside = self._around(i, j) if offset else range(0)
        of_ring = self._elsewhen(self.met[0], ring, day, beside)
        of_tag = self._elsewhen(self.met[1], tag, day, beside)
        if tag in of_ring:
            return self._log["pair_holds"]
        if offset:
            goes, against = self._beside_too(i, j, field, beside)
            if goes:
                return self._log["pair_holds"]
            if against and not of_ring and not of_tag:
                # beyond the ends of a slide the rows beside it have not moved
                of_ring = self._elsewhen(self.met[0], ring, day, range(min(i, j), max(i, j) + 1))
                of_tag = self._elsewhen(self.met[1], tag, day, range(min(i, j), max(i, j) + 1))
        if not of_ring and not of_tag:
            return None
        return self._log["pair_broken"]

    def _beside_too(self, i: int, j: int, field: str, beside: range) -> tuple[bool, bool]:
        """Whether rows beside it, once they have moved too, go with a moved cell, or are against it."""
        offset = j - i
        codes, others = (self.tag, self.ring) if field == "tag" else (self.ring, self.tag)
        goes = against = False
        for row in beside:
            if row == i or row + offset not in beside or self.days[row + offset] == self.days[j]:
                continue
            code, other = codes[row], others[row + offset]
            same, same_other = code == codes[i], other == others[j]
            goes |= same and same_other
            against |= bool(code and other) and same != same_other
        return goes, against

    @cached_property
    def _beside(self) -> int:
        return int(self.case.limit("beside"))

    @cached_property
    def _log(self) -> Mapping[str, float]:
        names = (
            *("pair_holds", "pair_broken", "box_holds", "box_broken", "event_broken", "series_broken"),
            *("missing", "odd"),
        )
        odd, width = self.case.limit("clock_odd_share"), self.case.limit("clock_odd_width")
        return {name: math.log(self.case.limit(name)) for name in names} | {
            "on_time": math.log1p(-odd),
            "late": math.log(odd / width),
            # a tag read at another time for no reason that anyone knows
            "any_time": math.log(odd / self.case.limit("clock_span")),
            "most": self.case.limit("missing_most"),
            "width": width,
        }

    def _tag_fits(self, i: int, j: int, blank: tuple[float, float]) -> float:
        tag, ring = self.tag[i], self.ring[j]
        if not tag:
            known = ring and self._elsewhen(self.met[0], ring, self.days[j])
            return self._log["missing"] if known else blank[0]
        log = blank[1]
        return self._slipped(log + (self._pair(i, j, "tag") or 0.0) + self._on_time(i, j))

    def _ring_fits(self, i: int, j: int, blank: tuple[float, float]) -> float:
        ring, tag, day = self.ring[i], self.tag[j], self.days[j]
        if not ring:
            return blank[0]
        log = blank[1]
        pair = self._pair(i, j, "ring") if tag else None
        if pair is not None:
            log += pair
        else:
            boxes = self._elsewhen(self.met[2], ring, day, range(i, i + 1))
            if boxes and self.rings.age[j] in ("", "1"):
                log += self._log["box_holds" if str(self.rings.box[j]) in boxes else "box_broken"]
        event = self.rings.event[j]
        if event and (event == "ringed") != self._is_new(i, j):
            log += self._log["event_broken"]
        kind = (str(self.rings.age[j]), self.species[j])
        if self.series.get(kind) not in (None, self.rings.key[i]):
            log += self._log["series_broken"]
        return self._slipped(log)

    def _is_new(self, i: int, j: int) -> bool:
        """Whether a ring in a row stands on the string beside one of its day, and on no bird before."""
        beside, n = self._around(i, j) if i != j else range(0), len(self.days)
        for row in self.rows_of_ring[self.ring[i]]:
            stands = row + j - i if row in beside else row
            if row != i and 0 <= stands < n and self.days[stands] < self.days[j]:
                return False
        key, number, reach = self.rings.key[i], int(self.rings.serial[i]), self.rings.reach
        # its neighbours on the string may have moved with it
        days = {self.days[i], self.days[j]}
        for step in range(1, reach + 1):
            for near in (number - step, number + step):
                if not days.isdisjoint(self.numbers.get((key, near), ())):
                    return True
        return False

    def _around(self, i: int, j: int) -> range:
        """Rows beside two, which would probably move too."""
        reach = self._beside
        return range(max(min(i, j) - reach, 0), min(max(i, j) + reach + 1, len(self.days)))

    @cached_property
    def rows_of_ring(self) -> Mapping[str, list[int]]:
        """Rows in which each ring stands."""
        found: dict[str, list[int]] = defaultdict(list)
        for i, ring in enumerate(self.ring):
            found[ring].append(i)
        return found

    @cached_property
    def numbers(self) -> Mapping[tuple[Key, int], set[int]]:
        """Days on which each number of a series stands in the sheet, whatever the event."""
        found: dict[tuple[Key, int], set[int]] = defaultdict(set)
        for key, number, day in zip(self.rings.key, self.rings.serial.tolist(), self.days, strict=True):
            if number >= 0:
                found[key, number].add(day)
        return dict(found)

    @cached_property
    def species(self) -> list[str]:
        """Species as written."""
        frame = self.case.sure("handlings")
        if "species" not in frame.columns:
            return [""] * len(frame)
        return [str(text) for text in frame["species"].fillna("").tolist()]

    @cached_property
    def series(self) -> Mapping[tuple[str, str], tuple[str, int]]:
        """Series of nearly all birds of an age and a species."""
        count: dict[tuple[str, str], Counter[tuple[str, int]]] = defaultdict(Counter)
        for i, ring in enumerate(self.ring):
            if ring:
                count[str(self.rings.age[i]), self.species[i]][self.rings.key[i]] += 1
        least = self.case.limit("series_share")
        found = {}
        for kind, keys in count.items():
            ((key, most),) = keys.most_common(1)
            if most >= least * keys.total() and most > 1:
                found[kind] = key
        return found

    # what the reader says

    @cached_property
    def _clock(self) -> tuple[list[float], Mapping[tuple[int, str], list[float]], float]:
        """Minutes of each row, of the reads of each tag on each day, and how widely they differ."""
        frame = self.case.sure("handlings")
        nothing: tuple[list[float], Mapping[tuple[int, str], list[float]], float] = (
            [math.nan] * len(frame),
            {},
            1.0,
        )
        if self.book is None or not self.book.read_place or "time" not in frame.columns:
            return nothing
        minutes = [minutes_of(text) for text in frame["time"].tolist()]
        key_of = {row.tag: row.key for row in self.book.rows}
        moments = clocks_of(self.case).moments.astype("datetime64[m]").astype(np.int64)
        known = ~np.isnat(clocks_of(self.case).moments)
        day, minute = np.divmod(moments, int(np.timedelta64(1, "D") / np.timedelta64(1, "m")))
        read: dict[tuple[int, str], list[float]] = defaultdict(list)
        texts = texts_of(self.case.frame("tag_reads"), "tag")
        for text, told, when, at in zip(texts, known.tolist(), day.tolist(), minute.tolist(), strict=True):
            if told and text:
                read[when, key_of.get(text, text)].append(float(at))
        late = np.array(
            [
                min((at - minutes[i] for at in read[self.days[i], tag]), key=abs)
                for i, tag in enumerate(self.tag)
                if tag and (self.days[i], tag) in read and math.isfinite(minutes[i])
            ]
        )
        if len(late) < self.case.limit("reads_least"):
            return nothing
        usual = float(np.median(late))
        spread = float(np.median(np.abs(late - usual))) * self.case.limit("spread_of_median")
        return (
            [minute + usual for minute in minutes],
            read,
            max(spread, self.case.limit("clock_least_min")),
        )

    def _on_time(self, i: int, j: int) -> float:
        """Log density of a tag's reading at the time of a row; nothing is said where either is missing."""
        minutes, read, spread = self._clock
        at = read.get((self.days[j], self.tag[i]))
        if not at or not math.isfinite(minutes[j]):
            return 0.0
        off = min(abs(moment - minutes[j]) for moment in at) / spread
        wide = off / self._log["width"]
        terms = (
            self._log["on_time"] - off * off / 2,
            self._log["late"] - wide * wide / 2,
            self._log["any_time"],
        )
        top = max(terms)
        return top + math.log(sum(math.exp(term - top) for term in terms))

    # what is lost

    def _lost(self, i: int, field: str) -> tuple[float, str]:
        """Log ratio for the code of a row standing nowhere that day, and the code, if it is known."""
        return self._lost_tag(i) if field == "tag" else self._lost_ring(i)

    @cached_property
    def _typed_on(self) -> Mapping[tuple[str, int], set[str]]:
        found: dict[tuple[str, int], set[str]] = defaultdict(set)
        for i, day in enumerate(self.days):
            for field, codes in (("tag", self.tag), ("ring", self.ring)):
                if codes[i]:
                    found[field, day].add(codes[i])
        return found

    def _lost_tag(self, i: int) -> tuple[float, str]:
        book, day = self.book, self.days[i]
        if book is None:
            return 0.0, ""
        known = list(self._elsewhen(self.met[0], self.ring[i], day)) if self.ring[i] else []
        log, code = 0.0, ""
        if len(known) == 1:
            # standing nowhere it may have been mistyped here as well
            typed = known[0] in self._typed_on["tag", day]
            log += math.log(self.case.limit("known_typed")) if typed else 0.0
            code = "" if typed else known[0]
        iso = str(np.datetime64(day, "D")) if day != NO_DAY else ""
        if iso and book.read_on.get(iso):
            waiting = self._read_beside(i, iso)
            if waiting:
                if (iso, self.tag[i]) in book.read_place:
                    log += math.log(book.read_share / book.unclaimed)
                code = code or (waiting[0] if len(waiting) == 1 else "")
            elif self.tag[i]:
                log += math.log(max(1 - book.read_share, book.unclaimed) / (1 - book.unclaimed))
        return log, book.printed(code) if code else ""

    def _read_beside(self, i: int, iso: str) -> list[str]:
        """Find the tags on no row of a day that were read next to those of the rows beside a row."""
        book = self.book
        if book is None:
            return []
        beside = [
            book.read_place.get((iso, self.tag[j]))
            for j in (i - 1, i, i + 1)
            if 0 <= j < len(self.tag) and self.days[j] == self.days[i] and self.tag[j]
        ]
        places = {place for place in beside if place is not None}
        free = self._free_places.get(iso, {})
        next_to_one = {at for place in places for at in (place - 1, place + 1)} - places
        return sorted(free[at] for at in next_to_one if at in free)

    @cached_property
    def _free_places(self) -> Mapping[str, Mapping[int, str]]:
        """Tags read on a day that stand on no row of it, by day and by their place among all reads."""
        found: dict[str, dict[int, str]] = defaultdict(dict)
        book = self.book
        if book is None:
            return found
        for (iso, key), at in book.read_place.items():
            if key not in book.keys_on.get(iso, ()):
                found[iso][at] = key
        return found

    def _lost_ring(self, i: int) -> tuple[float, str]:
        rings, day = self.rings, self.days[i]
        tags = list(self._elsewhen(self.met[1], self.tag[i], day)) if self.tag[i] else []
        if len(tags) == 1:
            typed = tags[0] in self._typed_on["ring", day]
            log = math.log(self.case.limit("known_typed")) if typed else 0.0
            return log, "" if typed else rings.written.get(tags[0], tags[0])
        if rings.event[i] == "re-encountered" or not rings.first[i] or rings.serial[i] < 0:
            return 0.0, ""
        key, number = rings.key[i], int(rings.serial[i])
        free = [
            step
            for step in (-1, 1)
            if (key, number + step) not in self.numbers
            and (key, number + step) not in rings.lost
            and (key, number + 2 * step) in self.numbers
        ]
        if free:
            own = rings.own.get(key, key[0])
            return math.log(self.case.limit("ring_free") / self._gap_share), (
                join_ring(own, number + free[0], key[1]) if len(free) == 1 else ""
            )
        return 0.0, ""

    @cached_property
    def _gap_share(self) -> float:
        """Share of the numbers of strings that were skipped and not written down."""
        gaps = sum(
            (key, number + 1) not in self.numbers
            and (key, number + 1) not in self.rings.lost
            and (key, number + 2) in self.numbers
            for key, number in self.numbers
        )
        weight = self.case.limit("habit_weight")
        return float(
            (max(gaps - 1, 0) + weight * self.case.limit("ring_skipped")) / (len(self.numbers) + weight)
        )

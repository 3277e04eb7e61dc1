"""Tags and rings beside the birds that they may belong to."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from audit.rules.code_reads import CodeReads
from audit.rules.code_rows import CodeRows
from audit.rules.lost_codes import LostCodes
from audit.rules.slid_column import OFFSETS, SlidColumn, with_ends, within

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from audit.rules.case import Case
    from audit.rules.ring_rows import Ringings
    from audit.rules.slid_column import Slots
    from audit.rules.tag_book import TagBook

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

__all__ = ["code_columns"]


def code_columns(case: Case, slots: Slots, rings: Ringings, book: TagBook | None) -> Iterator[SlidColumn]:
    """Lay tags and rings beside the birds of the rows around them."""
    codes = CodeRows(slots, rings, book, int(case.limit("beside")))
    sheet = _Sheet(case, codes, CodeReads(case, codes))
    if book is not None:
        yield sheet.column("tag")
    yield sheet.column("ring")


@dataclass(frozen=True)
class _Sheet:
    case: Case
    codes: CodeRows
    reads: CodeReads

    def column(self, field: str) -> SlidColumn:
        """Weigh every cell in its own row and in those beside it."""
        slots = self.codes.slots
        n = len(slots.labels)
        codes = self.codes.tag if field == "tag" else self.codes.ring
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
            for i in np.flatnonzero(slots.follows(offset) & near).tolist():
                fits[i, k] = likes(i, i + offset, log[i + offset])
        known = LostCodes(self.case, self.codes, self.reads)
        found = {i: known.of_row(i, field) for i in np.flatnonzero(near).tolist()}
        lost = np.zeros(n)
        lost[list(found)] = [log for log, _ in found.values()]
        opens, closes = with_ends(
            self.case,
            slots,
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
            [
                tuple(filter(None, (ring, tag)))
                for ring, tag in zip(self.codes.ring, self.codes.tag, strict=True)
            ],
        )

    def _texts(self, field: str) -> list[str]:
        if field == "ring":
            return [str(ring) for ring in self.codes.rings.ring.tolist()]
        texts = [""] * len(self.codes.slots.labels)
        for row in () if self.codes.book is None else self.codes.book.rows:
            texts[row.place] = row.tag
        return texts

    def _missing(self, field: str, codes: Sequence[str]) -> Floats:
        """Log probability that a cell is empty: by the kind of row, which is its series or its event."""
        kinds = [
            (self.codes.rings.key[i] if field == "tag" else "", self.codes.event[i])
            for i in range(len(codes))
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
            names = [
                (name, code)
                for name, code in (("ring", self.codes.ring[i]), ("tag", self.codes.tag[i]))
                if code
            ]
            # no further than from its first row: else a whole slide would be one slip
            near = [roots[name] for name in names if name in roots and i - roots[name] <= self.codes.beside]
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
        other_day[1:] = np.diff(self.codes.slots.day) != 0
        share: Floats = np.full(len(same), usual)
        of = int(other_day.sum())
        if of:
            # the one in question is no habit
            held = max(int((same & other_day).sum()) - 1, 0)
            share[other_day] = (held + weight * usual) / (of - 1 + weight)
        log: Floats = np.log(share)
        return log

    @cached_property
    def _log(self) -> Mapping[str, float]:
        names = (
            *("pair_holds", "pair_broken", "box_holds", "box_broken", "event_broken", "series_broken"),
            *("missing", "odd"),
        )
        return {name: math.log(self.case.limit(name)) for name in names} | {
            "most": self.case.limit("missing_most")
        }

    def _pair(self, i: int, j: int, field: str) -> float | None:
        """Log ratio of a code standing in a row, by other days; None where none tell."""
        goes = self.codes.goes(i, j, field)
        return None if goes is None else self._log["pair_holds" if goes else "pair_broken"]

    def _tag_fits(self, i: int, j: int, blank: tuple[float, float]) -> float:
        codes = self.codes
        if not codes.tag[i]:
            ring = codes.ring[j]
            known = ring and codes.elsewhen(codes.met[0], ring, codes.days[j])
            return self._log["missing"] if known else blank[0]
        log = blank[1]
        return self._slipped(log + (self._pair(i, j, "tag") or 0.0) + self.reads.on_time(i, j))

    def _ring_fits(self, i: int, j: int, blank: tuple[float, float]) -> float:
        codes = self.codes
        if not codes.ring[i]:
            return blank[0]
        log = blank[1]
        pair = self._pair(i, j, "ring") if codes.tag[j] else None
        if pair is not None:
            log += pair
        else:
            boxes = codes.elsewhen(codes.met[2], codes.ring[i], codes.days[j], range(i, i + 1))
            if boxes and codes.age[j] in ("", "1"):
                log += self._log["box_holds" if codes.box[j] in boxes else "box_broken"]
        event = codes.event[j]
        if event and (event == "ringed") != codes.is_new(i, j):
            log += self._log["event_broken"]
        if self.series.get((codes.age[j], self.species[j])) not in (None, codes.rings.key[i]):
            log += self._log["series_broken"]
        return self._slipped(log)

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
        for i, ring in enumerate(self.codes.ring):
            if ring:
                count[self.codes.age[i], self.species[i]][self.codes.rings.key[i]] += 1
        least = self.case.limit("series_share")
        found = {}
        for kind, keys in count.items():
            ((key, most),) = keys.most_common(1)
            if most >= least * keys.total() and most > 1:
                found[kind] = key
        return found

"""Codes that stand in no row of their day, though a bird of that day should have them."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from audit.models.ring_number import join_ring
from audit.rules.sheet_order import NO_DAY

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.rules.case import Case
    from audit.rules.code_reads import CodeReads
    from audit.rules.code_rows import CodeRows

__all__ = ["LostCodes"]


@dataclass(frozen=True)
class LostCodes:
    """What is known of the code that a row should have."""

    case: Case
    codes: CodeRows
    reads: CodeReads

    def of_row(self, i: int, field: str) -> tuple[float, str]:
        """Log ratio for the code of a row standing nowhere that day, and the code, if it is known."""
        return self._tag(i) if field == "tag" else self._ring(i)

    @cached_property
    def _typed_on(self) -> Mapping[tuple[str, int], set[str]]:
        found: dict[tuple[str, int], set[str]] = defaultdict(set)
        for i, day in enumerate(self.codes.days):
            for field, codes in (("tag", self.codes.tag), ("ring", self.codes.ring)):
                if codes[i]:
                    found[field, day].add(codes[i])
        return found

    @cached_property
    def _named(self) -> Mapping[int, str]:
        """Days as ISO 8601; nothing for a missing one."""
        days = dict.fromkeys(self.codes.days)
        return {day: str(np.datetime64(day, "D")) if day != NO_DAY else "" for day in days}

    def _tag(self, i: int) -> tuple[float, str]:
        codes, book = self.codes, self.codes.book
        day, tag = codes.days[i], codes.tag[i]
        if book is None:
            return 0.0, ""
        known = list(codes.elsewhen(codes.met[0], codes.ring[i], day)) if codes.ring[i] else []
        log, code = 0.0, ""
        if len(known) == 1:
            # standing nowhere it may have been mistyped here as well
            typed = known[0] in self._typed_on["tag", day]
            log += math.log(self.case.limit("known_typed")) if typed else 0.0
            code = "" if typed else known[0]
        iso = self._named[day]
        if iso and book.read_on.get(iso):
            waiting = self.reads.read_beside(i, iso)
            if waiting:
                if (iso, tag) in book.read_place:
                    log += math.log(book.read_share / book.unclaimed)
                code = code or (waiting[0] if len(waiting) == 1 else "")
            elif tag:
                log += math.log(max(1 - book.read_share, book.unclaimed) / (1 - book.unclaimed))
        return log, book.printed(code) if code else ""

    def _ring(self, i: int) -> tuple[float, str]:
        codes, rings = self.codes, self.codes.rings
        day = codes.days[i]
        tags = list(codes.elsewhen(codes.met[1], codes.tag[i], day)) if codes.tag[i] else []
        if len(tags) == 1:
            typed = tags[0] in self._typed_on["ring", day]
            log = math.log(self.case.limit("known_typed")) if typed else 0.0
            return log, "" if typed else rings.written.get(tags[0], tags[0])
        if codes.event[i] == "re-encountered" or not rings.first[i] or codes.serial[i] < 0:
            return 0.0, ""
        key, number = rings.key[i], codes.serial[i]
        free = [
            step
            for step in (-1, 1)
            if (key, number + step) not in self.codes.numbers
            and (key, number + step) not in rings.lost
            and (key, number + 2 * step) in self.codes.numbers
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
            (key, number + 1) not in self.codes.numbers
            and (key, number + 1) not in self.codes.rings.lost
            and (key, number + 2) in self.codes.numbers
            for key, number in self.codes.numbers
        )
        weight = self.case.limit("habit_weight")
        return float(
            (max(gaps - 1, 0) + weight * self.case.limit("ring_skipped")) / (len(self.codes.numbers) + weight)
        )

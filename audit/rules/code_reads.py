"""Tags of the handlings beside the reads of their day: when each was read, and next to which others."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from audit.models.time_of_day import minutes_of
from audit.rules.reader_clock import clocks_of
from audit.season import texts_in

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.rules.case import Case
    from audit.rules.code_rows import CodeRows

__all__ = ["CodeReads"]


@dataclass(frozen=True)
class CodeReads:
    """Reads of a season beside the tags of its rows."""

    case: Case
    codes: CodeRows

    @cached_property
    def _clock(self) -> tuple[list[float], Mapping[tuple[int, str], list[float]], float]:
        """Minutes of each row, of the reads of each tag on each day, and how widely they differ."""
        frame = self.case.sure("handlings")
        nothing: tuple[list[float], Mapping[tuple[int, str], list[float]], float] = (
            [math.nan] * len(frame),
            {},
            1.0,
        )
        if self.codes.book is None or not self.codes.book.read_place or "time" not in frame.columns:
            return nothing
        minutes = [minutes_of(text) for text in frame["time"].tolist()]
        key_of = {row.tag: row.key for row in self.codes.book.rows}
        moments = clocks_of(self.case).moments.astype("datetime64[m]").astype(np.int64)
        known = ~np.isnat(clocks_of(self.case).moments)
        day, minute = np.divmod(moments, int(np.timedelta64(1, "D") / np.timedelta64(1, "m")))
        read: dict[tuple[int, str], list[float]] = defaultdict(list)
        texts = texts_in(self.case.frame("tag_reads"), "tag")
        for text, told, when, at in zip(texts, known.tolist(), day.tolist(), minute.tolist(), strict=True):
            if told and text:
                read[when, key_of.get(text, text)].append(float(at))
        late = np.array(
            [
                min((at - minutes[i] for at in read[self.codes.days[i], tag]), key=abs)
                for i, tag in enumerate(self.codes.tag)
                if tag and (self.codes.days[i], tag) in read and math.isfinite(minutes[i])
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

    @cached_property
    def _log(self) -> tuple[float, float, float, float]:
        """Log weights of a tag read in time, late or at any time; how much wider the second is."""
        odd, width = self.case.limit("clock_odd_share"), self.case.limit("clock_odd_width")
        # a tag read at any time for no reason that anyone knows
        any_time = math.log(odd / self.case.limit("clock_span"))
        return math.log1p(-odd), math.log(odd / width), any_time, float(width)

    def on_time(self, i: int, j: int) -> float:
        """Log density of a tag's reading at the time of a row; nothing is said where either is missing."""
        minutes, read, spread = self._clock
        at = read.get((self.codes.days[j], self.codes.tag[i]))
        minute = minutes[j]
        if not at or not math.isfinite(minute):
            return 0.0
        off = min(abs(moment - minute) for moment in at) / spread
        in_time, late, any_time, width = self._log
        wide = off / width
        terms = (in_time - off * off / 2, late - wide * wide / 2, any_time)
        top = max(terms)
        return top + math.log(sum(math.exp(term - top) for term in terms))

    def read_beside(self, i: int, iso: str) -> list[str]:
        """Find the tags on no row of a day that were read next to those of the rows beside a row."""
        book, tag, days = self.codes.book, self.codes.tag, self.codes.days
        if book is None:
            return []
        beside = [
            book.read_place.get((iso, tag[j]))
            for j in (i - 1, i, i + 1)
            if 0 <= j < len(tag) and days[j] == days[i] and tag[j]
        ]
        places = {place for place in beside if place is not None}
        free = self._free_places.get(iso, {})
        next_to_one = {at for place in places for at in (place - 1, place + 1)} - places
        return sorted(free[at] for at in next_to_one if at in free)

    @cached_property
    def _free_places(self) -> Mapping[str, Mapping[int, str]]:
        """Tags read on a day that stand on no row of it, by day and by their place among all reads."""
        found: dict[str, dict[int, str]] = defaultdict(dict)
        book = self.codes.book
        if book is None:
            return found
        for (iso, key), at in book.read_place.items():
            if key not in book.keys_on.get(iso, ()):
                found[iso][at] = key
        return found

"""What the table of visits and the reader tell of the rows of a table."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from audit.rules.reader_clock import clocks_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.explain.unread_sheet import Sheet, Tables

__all__ = ["Witnesses"]


class Witnesses:
    """Visits and reads beside the rows of one table."""

    def __init__(self, tables: Tables, sheet: Sheet) -> None:
        self.tables = tables
        self.sheet = sheet

    def visited_on(self, box: object) -> set[float]:
        """Days on which a box was visited, by the table of visits."""
        return set(self.visit_days.get(box, ())) if box is not None else set()

    @cached_property
    def visit_days(self) -> dict[object, set[float]]:
        """Days of the table of visits by box; none where that table is the one asked about."""
        visits = self.tables.sheet("visits")
        found: dict[object, set[float]] = {}
        if visits is not None and visits is not self.sheet:
            for day, box in visits.visits:
                found.setdefault(box, set()).add(day)
        return found

    @cached_property
    def kept_visits(self) -> float:
        """Share of rows whose day and box stand in the table of visits."""
        keys = self.sheet.visits
        hits = sum(len(rows) for (day, box), rows in keys.items() if day in self.visit_days.get(box, ()))
        return (hits + 1 / 2) / (sum(map(len, keys.values())) + 1)

    @cached_property
    def reads(self) -> dict[object, list[tuple[float, float]]]:
        """Day and minute of each read of a tag, the reader's clock set right."""
        reads = self.tables.sheet("tag_reads")
        found: dict[object, list[tuple[float, float]]] = {}
        if reads is None or not reads.has("read_at"):
            return found
        moments = clocks_of(self.tables.case("reader")).moments.astype("datetime64[m]")
        for tag, moment in zip(reads.words("tag"), moments, strict=True):
            if tag is not None and not np.isnat(moment):
                day = moment.astype("datetime64[D]")
                minute = (moment - day).astype(np.int64)
                found.setdefault(tag, []).append((float(day.astype(np.int64)), float(minute)))
        return found

    @cached_property
    def tags(self) -> NDArray[np.object_]:
        """Tag of each row."""
        return self.sheet.words("tag")

    def read_on(self, row: int) -> set[float]:
        """Days on which the tag of a row was read."""
        return {day for day, _ in self.reads.get(self.tags[row], ())} if self.tags[row] else set()

    @cached_property
    def kept_reads(self) -> float:
        """Share of rows with a tag that was read at all whose day is one of its reads."""
        rows = [i for i, tag in enumerate(self.tags) if tag in self.reads and np.isfinite(self.sheet.days[i])]
        hits = sum(self.sheet.days[i] in self.read_on(i) for i in rows)
        return (hits + 1 / 2) / (len(rows) + 1)

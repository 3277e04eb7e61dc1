"""The download beside the sheet: each read with its moment set right, and the row that it belongs to.

Within a day, rows and reads of the same tag are anchors. What is left between them is paired by where it
stands, in the order of the sheet on one side and of the reader on the other, and by how the hand slips.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from audit.rules.heeded import TAG_BOOK
from audit.rules.read_days import ELSEWHERE, IN_PLACE, IN_VISIT, ReadDay, RowsLeft, day_of_reads
from audit.rules.read_pairs import paired_rest
from audit.rules.reader_clock import clocks_of
from audit.rules.reads_in_order import OrderedReads, follow_again, reads_in_order
from audit.rules.stored_read import StoredRead
from audit.rules.tag_book import open_tag_book
from audit.season import texts_in

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping, Sequence

    from audit.rules.case import Case
    from audit.rules.tag_book import TagBook, TagRow

__all__ = ["Download", "download_of"]

#: Roles that say whose tag it is, or that nobody has it.
_TOLD = frozenset({"bird", "slip", "no_row"})


@dataclass(frozen=True)
class Download:
    """All reads of a season.

    Attributes
    ----------
    reads : tuple of StoredRead
        In the order in which they really were; those without a moment last.
    unread : tuple of str
        Labels of the rows with a tag whose day has a download that lacks it, in sheet order.
    """

    reads: tuple[StoredRead, ...]
    unread: tuple[str, ...]
    _anchors: Mapping[str, ReadDay]
    _order_least: float
    _slips: Mapping[tuple[str, str], tuple[str, float]]
    _left: Mapping[str, Sequence[TagRow]]

    @cached_property
    def of_row(self) -> Mapping[str, StoredRead]:
        """First read that belongs to each row, by its label."""
        found: dict[str, StoredRead] = {}
        for read in self.reads:
            if read.row:
                found.setdefault(read.row, read)
        return found

    @cached_property
    def _keeps_order(self) -> bool:
        """Whether the birds of a visit were read in the order of the sheet."""
        ahead = n = 0
        for day in self._anchors.values():
            for own in day.rows.values():
                steps = np.diff([read for _, read in own])
                ahead, n = ahead + int((steps > 0).sum()), n + len(steps)
        return ahead + 1 >= self._order_least * (n + 1)

    def nearest(self, book: TagBook, row: TagRow, keys: Collection[str]) -> list[str]:
        """Choose the tags that were read where a row stands: just there, or else in its visit.

        In a visit without any other read, those read between the rows above and below of the whole day.

        Parameters
        ----------
        keys : collection of str
            Tags read on the day of the row.
        """
        day = self._anchors.get(row.day)
        if day is None or not day.rows.get(row.box):
            return book.read_in_turn(row, keys)
        steps = day.steps(row)
        places = [(key, steps[day.number[key]]) for key in keys if key in day.number]
        for least in (IN_PLACE, IN_VISIT) if self._keeps_order else (IN_VISIT,):
            found = sorted(key for key, place in places if place >= least)
            if found:
                return found
        return []

    def nearness(self, row: TagRow, key: str) -> int:
        """Return how near to a row a tag was read on its day, in steps; more is nearer."""
        day = self._anchors.get(row.day)
        step = ELSEWHERE if day is None else day.place_of(row, key)
        return step if self._keeps_order else min(step, IN_VISIT)

    def unclaimed(self, book: TagBook, day: str, key: str) -> float:
        """Share of the tags read on a day that belong to no row of it, but for one that is in question."""
        own = self._roles.get((day, key)) == "no_row"
        return book.beliefs["unclaimed"].after(self._strays - own, max(len(self._roles) - 1, 0))

    @cached_property
    def _roles(self) -> Mapping[tuple[str, str], str]:
        return {(read.day, read.key): read.role for read in self.reads if read.day and read.role in _TOLD}

    @cached_property
    def _strays(self) -> int:
        return sum(role == "no_row" for role in self._roles.values())

    def has_row(self, day: str, key: str) -> bool:
        """Whether a tag read on a day stands on a row of it, be that row in doubt."""
        return self._roles.get((day, key)) == "bird"

    def without_read(self, day: str) -> Sequence[TagRow]:
        """Return the rows of a day without a read of their own, in sheet order, those without a tag too."""
        return self._left.get(day, ())

    def rivals(self, row: TagRow, key: str) -> int:
        """Count the other rows without a read of their own where a tag was read as near to them."""
        day = self._anchors.get(row.day)
        if day is None:
            return 0
        near = day.place_of(row, key)
        left = self._standing(row.day)
        number = day.number.get(key)
        places = np.full(len(left.rows), ELSEWHERE) if number is None else left.steps[:, number]
        own = left.rows.get(row.label)
        return int(np.count_nonzero(places >= near)) - (own is not None and bool(places[own] >= near))

    def _standing(self, name: str) -> RowsLeft:
        """Lay out how near the tags read on a day stand to its rows without a read of their own."""
        if name not in self._stood:
            rows = self.without_read(name)
            steps = [self._anchors[name].steps(row) for row in rows]
            shape = len(rows), len(self._anchors[name].number)
            laid = np.array(steps, dtype=np.int8).reshape(shape)
            self._stood[name] = RowsLeft({row.label: i for i, row in enumerate(rows)}, laid)
        return self._stood[name]

    @cached_property
    def _stood(self) -> dict[str, RowsLeft]:
        return {}

    def free_for(self, row: TagRow, key: str) -> float:
        """Return the probability that a read of the day of a row is not that of another one with a slip."""
        label, odds = self._slips.get((row.day, key), ("", 0.0))
        return 1.0 if label in ("", row.label) else 1 / (1 + odds)


def download_of(case: Case) -> Download:
    """Pair the reads of a season with its rows."""
    return case.lay_out(_lay_out, TAG_BOOK)


def _lay_out(case: Case) -> Download:
    book = open_tag_book(case)
    if not case.season.has("tag_reads", "tag"):
        return Download((), (), {}, 1.0, {}, {})
    shown, true = _moments(case)
    reads = reads_in_order(case, book, true)
    by_day: dict[str, list[int]] = defaultdict(list)
    for i, (day, role) in enumerate(zip(reads.day, reads.role, strict=True)):
        if day and role == "no_row":
            by_day[day].append(i)
    rows_of: dict[str, list[TagRow]] = defaultdict(list)
    for row in sorted((*book.rows, *book.aside.values()), key=lambda row: row.place):
        rows_of[row.day].append(row)
    unread: list[TagRow] = []
    left_of: dict[str, list[TagRow]] = {}
    anchors: dict[str, ReadDay] = {}
    slips: dict[tuple[str, str], tuple[str, float]] = {}
    for day, places in by_day.items():
        first = {reads.key[i]: i for i in reversed(places)}
        own = rows_of.get(day, [])
        met: dict[str, TagRow] = {}
        for row in own:
            if row.key in first:
                met.setdefault(row.key, row)
        for i in places:
            if reads.key[i] in met:
                reads.role[i], reads.row[i] = "bird", met[reads.key[i]].label
        paired = {row.label for row in met.values()}
        anchors[day] = day_of_reads(first, list(met.items()))
        left = [row for row in own if row.label not in paired]
        left_of[day] = left
        free = [(key, i) for key, i in first.items() if key not in met]
        for row, i, odds in paired_rest(case, book, anchors[day], left, free):
            reads.role[i], reads.row[i] = "slip", row.label
            slips[day, reads.key[i]] = row.label, odds
        unread += [row for row in left if row.tag and book.read_on.get(day)]
    unread.sort(key=lambda row: row.place)
    follow_again(reads)
    least = float(case.declared.rules["reader"].limits["order_least"].value)
    made = tuple(_made(case, reads, shown, true))
    return Download(made, tuple(row.label for row in unread), anchors, least, slips, left_of)


def _moments(case: Case) -> tuple[list[str], list[str]]:
    """Write what was stored and what was true, by position in the table."""
    frame, true = case.frame("tag_reads"), clocks_of(case).moments
    stored = frame["read_at"].to_numpy(dtype="datetime64[s]") if "read_at" in frame.columns else true
    shown, told = (
        ["" if text == "NaT" else text for text in np.datetime_as_string(moments).tolist()]
        for moments in (stored, true)
    )
    return shown, told


def _made(case: Case, reads: OrderedReads, shown: Sequence[str], true: Sequence[str]) -> Iterator[StoredRead]:
    frame, segment = case.frame("tag_reads"), clocks_of(case).segment.tolist()
    labels, texts, readers = frame.index.tolist(), texts_in(frame, "tag"), texts_in(frame, "reader")
    for i, key, role, row in zip(reads.at, reads.key, reads.role, reads.row, strict=True):
        yield StoredRead(labels[i], readers[i], texts[i], key, shown[i], true[i], segment[i], role, row)

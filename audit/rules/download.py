"""The download beside the sheet: each read with its moment set right, and the row that it belongs to.

Within a day, rows and reads of the same tag are anchors. What is left between them is paired by where it
stands, in the order of the sheet on one side and of the reader on the other, and by how the hand slips.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from audit.models.assignment import assign
from audit.rules.heeded import TAG_BOOK
from audit.rules.reader_clock import clocks_of
from audit.rules.tag_book import open_tag_book
from audit.rules.tag_keys import texts_of

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from audit.rules.case import Case
    from audit.rules.tag_book import TagBook, TagRow

    Ints = NDArray[np.int64]

__all__ = ["Download", "StoredRead", "download_of"]


@dataclass(frozen=True, slots=True)
class StoredRead:
    """One read of the hand reader.

    Attributes
    ----------
    label : str
        Row label in ``tag_reads``.
    reader, tag, key : str
        Which reader, the text, the same tag however written.
    stored, moment : str
        What the reader's clock showed and when it really was, ISO 8601; empty where missing.
    segment : int
        Number of the segment of its reader's clock; -1 where no moment is given.
    role : str
        ``bird`` (a row of its day has the tag), ``slip`` (paired with a row that says something else),
        ``test`` (a tag that tests the reader), ``again`` (the same tag just before) or ``no_row``.
    row : str
        Label of the handling that it belongs to; empty where none.
    """

    label: str
    reader: str
    tag: str
    key: str
    stored: str
    moment: str
    segment: int
    role: str = "no_row"
    row: str = ""

    @property
    def day(self) -> str:
        """Day on which it really was."""
        return self.moment.partition("T")[0]


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
    _anchors: Mapping[str, _Day]
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
        for least in (_IN_PLACE, _IN_VISIT) if self._keeps_order else (_IN_VISIT,):
            found = sorted(key for key, place in places if place >= least)
            if found:
                return found
        return []

    def nearness(self, row: TagRow, key: str) -> int:
        """Return how near to a row a tag was read on its day, in steps; more is nearer."""
        day = self._anchors.get(row.day)
        step = _ELSEWHERE if day is None else day.place_of(row, key)
        return step if self._keeps_order else min(step, _IN_VISIT)

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
        places = np.full(len(left.rows), _ELSEWHERE) if number is None else left.steps[:, number]
        own = left.rows.get(row.label)
        return int(np.count_nonzero(places >= near)) - (own is not None and bool(places[own] >= near))

    def _standing(self, name: str) -> _Left:
        """Lay out how near the tags read on a day stand to its rows without a read of their own."""
        if name not in self._stood:
            rows = self.without_read(name)
            steps = [self._anchors[name].steps(row) for row in rows]
            shape = len(rows), len(self._anchors[name].number)
            laid = np.array(steps, dtype=np.int8).reshape(shape)
            self._stood[name] = _Left({row.label: i for i, row in enumerate(rows)}, laid)
        return self._stood[name]

    @cached_property
    def _stood(self) -> dict[str, _Left]:
        return {}

    def free_for(self, row: TagRow, key: str) -> float:
        """Return the probability that a read of the day of a row is not that of another one with a slip."""
        label, odds = self._slips.get((row.day, key), ("", 0.0))
        return 1.0 if label in ("", row.label) else 1 / (1 + odds)


#: Roles that say whose tag it is, or that nobody has it.
_TOLD = frozenset({"bird", "slip", "no_row"})
#: How well a read stands where a row does.
_ELSEWHERE, _IN_VISIT, _IN_PLACE = 0, 1, 2


@dataclass(frozen=True, slots=True)
class _Left:
    """Rows of a day without a read of their own, by label, and how near each tag was read: rows by tags."""

    rows: Mapping[str, int]
    steps: NDArray[np.int8]


@dataclass(frozen=True)
class _Day:
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
            return list(np.where(between, _IN_VISIT, _ELSEWHERE).tolist())
        beside = (before == self._boxes[box]) | (after == self._boxes[box])
        fits = np.ones(len(read), dtype=bool)
        if low:
            fits &= own[low - 1][1] < read
        if high < len(own):
            fits &= read < own[high][1]
        return list(np.where(beside, np.where(fits, _IN_PLACE, _IN_VISIT), _ELSEWHERE).tolist())

    def place_of(self, row: TagRow, key: str) -> int:
        """Say how well a tag was read where a row stands."""
        return self.steps(row)[self.number[key]] if key in self.number else _ELSEWHERE


def _first(pair: tuple[int, object]) -> int:
    return pair[0]


def download_of(case: Case) -> Download:
    """Pair the reads of a season with its rows."""
    return case.lay_out(_lay_out, TAG_BOOK)


@dataclass(slots=True)
class _Reads:
    """Columns of the reads, in the order in which they were; `at` is the position in the table."""

    at: list[int]
    key: list[str]
    day: list[str]
    role: list[str]
    row: list[str]


def _lay_out(case: Case) -> Download:
    book = open_tag_book(case)
    if not case.season.has("tag_reads", "tag"):
        return Download((), (), {}, 1.0, {}, {})
    shown, true = _moments(case)
    reads = _in_order(case, book, true)
    by_day: dict[str, list[int]] = defaultdict(list)
    for i, (day, role) in enumerate(zip(reads.day, reads.role, strict=True)):
        if day and role == "no_row":
            by_day[day].append(i)
    rows_of: dict[str, list[TagRow]] = defaultdict(list)
    for row in sorted((*book.rows, *book.aside.values()), key=lambda row: row.place):
        rows_of[row.day].append(row)
    unread: list[TagRow] = []
    left_of: dict[str, list[TagRow]] = {}
    anchors: dict[str, _Day] = {}
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
        anchors[day] = _day(first, list(met.items()))
        left = [row for row in own if row.label not in paired]
        left_of[day] = left
        free = [(key, i) for key, i in first.items() if key not in met]
        for row, i, odds in _paired(case, book, anchors[day], left, free):
            reads.role[i], reads.row[i] = "slip", row.label
            slips[day, reads.key[i]] = row.label, odds
        unread += [row for row in left if row.tag and book.read_on.get(day)]
    unread.sort(key=lambda row: row.place)
    _follow(reads)
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


def _in_order(case: Case, book: TagBook, true: Sequence[str]) -> _Reads:
    """Sort the reads by when they were, and mark the doubled and testing ones."""
    clocks = clocks_of(case)
    seconds = clocks.moments.astype("datetime64[s]").astype(np.int64).tolist()
    again = float(case.declared.rules["reader"].limits["again_minutes"].value) * float(
        np.timedelta64(1, "m") / np.timedelta64(1, "s")
    )
    texts = texts_of(case.frame("tag_reads"), "tag")
    last: dict[str, int] = {}
    reads = _Reads([], [], [], [], [])
    for i in clocks.order.tolist():
        if not texts[i]:
            continue
        key = book.read_keys[texts[i]]
        role = "test" if key in book.tests else "no_row"
        if role == "no_row" and true[i]:
            if key in last and seconds[i] - last[key] <= again:
                role = "again"
            last[key] = seconds[i]
        reads.at.append(i)
        reads.key.append(key)
        reads.day.append(true[i].partition("T")[0])
        reads.role.append(role)
        reads.row.append("")
    return reads


def _follow(reads: _Reads) -> None:
    """Let a tag that was stored again belong to the row of the read before."""
    last: dict[str, str] = {}
    for i, (key, role) in enumerate(zip(reads.key, reads.role, strict=True)):
        if role == "again":
            reads.row[i] = last.get(key, "")
        else:
            last[key] = reads.row[i]


def _made(case: Case, reads: _Reads, shown: Sequence[str], true: Sequence[str]) -> Iterator[StoredRead]:
    frame, segment = case.frame("tag_reads"), clocks_of(case).segment.tolist()
    labels, texts, readers = frame.index.tolist(), texts_of(frame, "tag"), texts_of(frame, "reader")
    for i, key, role, row in zip(reads.at, reads.key, reads.role, reads.row, strict=True):
        yield StoredRead(labels[i], readers[i], texts[i], key, shown[i], true[i], segment[i], role, row)


def _day(first: Mapping[str, int], met: Sequence[tuple[str, TagRow]]) -> _Day:
    rows: dict[str, list[tuple[int, int]]] = defaultdict(list)
    for key, row in sorted(met, key=lambda one: one[1].place):
        rows[row.box].append((row.place, first[key]))
    return _Day(first, tuple(sorted((first[key], row.box) for key, row in met)), rows)


def _near(typed: Sequence[str], printed: Sequence[str]) -> list[list[int]]:
    """Find for each typed number the printed ones, by place, that a slip of the hand may have turned into it.

    Numbers of one length in more than two places of which other digits stand are left out without weighing.
    """
    by_length: dict[int, list[int]] = defaultdict(list)
    for j, code in enumerate(printed):
        by_length[len(code)].append(j)
    signs = {length: _signs([printed[j] for j in places]) for length, places in by_length.items()}
    found = []
    for text in typed:
        if text.isdigit() and not text.endswith("00") and len(text) in by_length:
            places = by_length[len(text)]
            near = (signs[len(text)] != _signs([text])).sum(axis=1) <= 2  # noqa: PLR2004 - signs of one slip
            other = [j for length, those in by_length.items() if length != len(text) for j in those]
            found.append(sorted([*other, *(places[k] for k in np.flatnonzero(near).tolist())]))
        else:
            found.append(list(range(len(printed))))
    return found


def _signs(codes: Sequence[str]) -> NDArray[np.uint32]:
    """Signs of codes of one length, one row each."""
    return np.array(codes, dtype=np.str_).view(np.uint32).reshape(len(codes), -1)


def _paired(
    case: Case,
    book: TagBook,
    day: _Day,
    rows: Sequence[TagRow],
    free: Sequence[tuple[str, int]],
) -> list[tuple[TagRow, int, float]]:
    """Pair rows and reads that are left of a day, each once, so that all together are likeliest; with odds.

    References
    ----------
    Kuhn, H. W. (1955). The Hungarian method for the assignment problem. Naval Research Logistics Quarterly 2,
    83-97.
    """
    if not rows or not free:
        return []
    limits = case.declared.rules["reader"].limits
    odds = [
        math.log(float(limits[name].value)) for name in ("odds_elsewhere", "odds_in_visit", "odds_in_place")
    ]
    # where hardly any row lacks a tag, an empty cell does by mistake
    empty = max(math.log((len(book.rows) + 1) / (sum(not row.tag for row in book.aside.values()) + 1)), 0.0)
    chance_of_any = math.log(float(limits["any_code"].value))
    gain = np.zeros((len(rows), len(free)))
    printed = [book.printed(key) for key, _ in free]
    numbers = [day.number[key] for key, _ in free]
    for i, (row, near) in enumerate(zip(rows, _near([row.tag for row in rows], printed), strict=True)):
        steps = day.steps(row)
        where = [odds[steps[number]] for number in numbers]
        if not row.tag:
            gain[i] = [empty + here for here in where]
            continue
        for j in near:
            gain[i, j] = book.channel.log_chance(row.tag, printed[j]) - chance_of_any + where[j]
    # most rows and reads have nothing to gain from each other, whatever the others do
    pairs = gain > 0
    some, any_of = np.flatnonzero(pairs.any(axis=1)), np.flatnonzero(pairs.any(axis=0))
    one, other = assign(-np.maximum(gain[np.ix_(some, any_of)], 0.0))
    return [
        (rows[i], free[j][1], float(np.exp(gain[i, j])))
        for i, j in zip(some[one].tolist(), any_of[other].tolist(), strict=True)
        if gain[i, j] > 0
    ]

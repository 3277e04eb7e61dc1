"""Rows with their tags, and the reads of the hand reader, by one key for each tag: as typed, sure or not."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from audit.rules.heeded import TAG_BOOK
from audit.rules.reader_clock import clocks_of
from audit.rules.tag_keys import keys_of
from audit.season import texts_in

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from numpy.typing import NDArray

    from audit.rules.case import Case

__all__ = ["KeyedTags", "StoredTags", "TagRow", "keyed_tags", "of_test_range", "stored_tags"]

_DECIMAL = re.compile(r"[0-9]{15}")
#: Digits of the country or maker.
_PREFIX = len("999")


@dataclass(frozen=True, slots=True)
class TagRow:
    """One handling with a tag.

    Attributes
    ----------
    label : str
        Row label.
    place : int
        Position in the sheet, from 0.
    tag, key : str
        Text as read; the same tag however written.
    ring, day, box, event, remarks : str
        Empty where missing or in doubt; the day as ISO 8601.
    """

    label: str
    place: int
    tag: str
    key: str
    ring: str
    day: str
    box: str
    event: str
    remarks: str

    @property
    def visit(self) -> tuple[str, str]:
        """Day and box."""
        return self.day, self.box

    def but_for(self, doubted: Collection[tuple[str, str]]) -> TagRow:
        """Leave out ring, day and box where they are in doubt."""
        ring, day, box = (
            "" if (self.label, field) in doubted else value
            for field, value in (("ring", self.ring), ("date", self.day), ("box", self.box))
        )
        return replace(self, ring=ring, day=day, box=box)


@dataclass(frozen=True, slots=True)
class KeyedTags:
    """Tags of sheet, stock and reader.

    Attributes
    ----------
    habit : str or None
        The way of writing that most tags of the season share.
    rows : tuple of TagRow
        All handlings in sheet order, nothing of them left out.
    above : mapping of str to (str, str)
        Row label to ring and key of the row above.
    stock, read : mapping of str to str
        Text in stock, and in the download, to its key.
    reads : tuple of (str, str)
        Day and key of each read, in time order.
    of : tuple
        The texts in stock that are not in doubt and the reads of which this was made.
    """

    habit: str | None
    rows: tuple[TagRow, ...]
    above: Mapping[str, tuple[str, str]]
    stock: Mapping[str, str]
    read: Mapping[str, str]
    reads: tuple[tuple[str, str], ...]
    of: _Given


@dataclass(frozen=True, slots=True)
class StoredTags:
    """What the reader stored.

    Attributes
    ----------
    tests : frozenset of str
        Keys of tags that test the reader.
    on : mapping of str to frozenset of str
        Keys of the others by day.
    place : mapping of (str, str) to int
        Day and key to the place of its first read among all reads, in time order.
    """

    tests: frozenset[str]
    on: Mapping[str, frozenset[str]]
    place: Mapping[tuple[str, str], int]


#: Texts in stock; day and text of each read.
_Given = tuple[tuple[str, ...], tuple[tuple[str, str], ...]]


def keyed_tags(case: Case) -> KeyedTags:
    """Give all tags their keys; the same for all cases with the same stock and the same order of reads."""
    given = tuple(_in_stock(case)), tuple(_reads(case))
    keyed: KeyedTags = case.layouts.get(("keyed tags", given), partial(_keyed, case, given), TAG_BOOK)
    return keyed


def stored_tags(case: Case, keyed: KeyedTags, *, test_season: bool) -> StoredTags:
    """Tell tags that test the reader from the others, and when each was read.

    Parameters
    ----------
    test_season : bool
        Whether the season's own tags are of the test range.
    """
    key = ("stored tags", keyed.of, test_season)
    stored: StoredTags = case.layouts.get(
        key, partial(_stored, case, keyed, test_season=test_season), TAG_BOOK
    )
    return stored


def _keyed(case: Case, given: _Given) -> KeyedTags:
    handlings = case.frame("handlings")
    tags = texts_in(handlings, "tag")
    stock, reads = given
    habit, (key_of, stock_keys, read_keys) = keys_of(case, tags, list(stock), [text for _, text in reads])
    columns = [texts_in(handlings, name) for name in ("ring", "box", "event", "remarks")]
    days = _named(handlings["date"].to_numpy(dtype="datetime64[D]"))
    rows: list[TagRow] = []
    above: dict[str, tuple[str, str]] = {}
    before = ("", "")
    for place, (label, tag, day, ring, box, event, remarks) in enumerate(
        zip(handlings.index.tolist(), tags, days, *columns, strict=True)
    ):
        above[label] = before
        key = key_of.get(tag, "")
        before = (ring, key)
        rows.append(TagRow(label, place, tag, key, ring, day, box, event, remarks))
    by_key = tuple((day, read_keys[text]) for day, text in reads)
    return KeyedTags(habit, tuple(rows), above, stock_keys, read_keys, by_key, given)


def _stored(case: Case, keyed: KeyedTags, *, test_season: bool) -> StoredTags:
    tests = _tests(case, keyed.reads, {row.key for row in keyed.rows}, test_season=test_season)
    on: dict[str, set[str]] = defaultdict(set)
    place: dict[tuple[str, str], int] = {}
    for i, (day, key) in enumerate(keyed.reads):
        if key not in tests:
            on[day].add(key)
            place.setdefault((day, key), i)
    return StoredTags(tests, {day: frozenset(found) for day, found in on.items()}, place)


def of_test_range(case: Case, key: str) -> bool:
    """Whether a key is of the range of tags that test readers."""
    if not _DECIMAL.fullmatch(key):
        return False
    return case.declared.tags.prefix_class(int(key[:_PREFIX])) == "test"


def _tests(
    case: Case, reads: Sequence[tuple[str, str]], typed: set[str], *, test_season: bool
) -> frozenset[str]:
    """Keys of tags that test the reader: of the test range, or read on many days and on no row."""
    strange: dict[str, set[str]] = defaultdict(set)
    for day, key in reads:
        if key not in typed:
            strange[key].add(day)
    most = case.declared.rules["reader"].limits["marker_days"].value
    return frozenset(
        key
        for key, days in strange.items()
        if len(days) >= most or (not test_season and of_test_range(case, key))
    )


def _reads(case: Case) -> list[tuple[str, str]]:
    """Day and tag of every read of the hand reader, in time order, its clock set right."""
    if not case.season.has("tag_reads", "tag"):
        return []
    texts = texts_in(case.frame("tag_reads"), "tag")
    clocks = clocks_of(case)
    days = _named(clocks.moments.astype("datetime64[D]"))
    return [(days[i], texts[i]) for i in clocks.order.tolist() if texts[i]]


def _in_stock(case: Case) -> list[str]:
    if not case.season.has("tag_stock", "tag"):
        return []
    frame = case.frame("tag_stock")
    return [
        text
        for label, text in zip(frame.index, texts_in(frame, "tag"), strict=True)
        if text and (label, "tag") not in case.doubted
    ]


def _named(days: NDArray[np.datetime64]) -> list[str]:
    return ["" if text == "NaT" else text for text in np.datetime_as_string(days).tolist()]

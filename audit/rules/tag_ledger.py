"""What became of every tag in stock: the ledger of the tags. Evidence, no findings."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from audit.models.tag_text import comparable
from audit.rules.case import Case
from audit.rules.meant_instead import meant_instead
from audit.rules.tag_book import TagBook, TagRow, open_tag_book
from audit.rules.tag_keys import keys_of
from audit.season import split_label, texts_in

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from audit.declarations import Declarations
    from audit.findings import Report
    from audit.season import Season

__all__ = ["TagFate", "TagLedger", "TagLine", "lay_tag_ledger"]


class TagFate(StrEnum):
    """What became of a tag; every tag has exactly one fate."""

    ON_A_BIRD = "on a bird"
    READ_ONLY = "read, on no row"
    IN_HAND = "in hand"


@dataclass(frozen=True, slots=True)
class TagLine:
    """One tag.

    Attributes
    ----------
    tag, batch : str
        Number and batch as they stand in the stock.
    fate, likely : TagFate
        What became of it as typed; and if what the findings suggest had been typed.
    ring, date, box, label : str
        Of the handling at which it was fitted or first met.
    read : str
        First day on which the hand reader read it.
    remark : str
        What else there is to say.
    conflict : bool
        Whether it is on two rings, or twice in the stock.
    fitted : bool
        Whether it was fitted at that handling, as far as the sheet tells.
    """

    tag: str
    batch: str
    fate: TagFate
    likely: TagFate
    ring: str
    date: str
    box: str
    label: str
    read: str
    remark: str
    conflict: bool
    fitted: bool

    @property
    def sheet(self) -> str:
        """Sheet of the handling."""
        return split_label(self.label)[0] if self.label else ""

    @property
    def row(self) -> int | None:
        """Row of the handling."""
        return split_label(self.label)[1] if self.label else None


@dataclass(frozen=True)
class TagLedger:
    """The tags of a season.

    Attributes
    ----------
    lines : tuple of TagLine
        One per tag in stock, by batch and number.
    others : tuple of TagLine
        Tags on birds or in the reader that are not in stock.
    has_stock, has_reads : bool
        Whether there is a stock list, and a download.
    """

    lines: tuple[TagLine, ...]
    others: tuple[TagLine, ...]
    has_stock: bool
    has_reads: bool

    @cached_property
    def by_batch(self) -> Mapping[str, tuple[TagLine, ...]]:
        """Tags by batch."""
        found: dict[str, list[TagLine]] = {}
        for line in self.lines:
            found.setdefault(line.batch, []).append(line)
        return {batch: tuple(lines) for batch, lines in found.items()}

    def counts(self, batch: str) -> dict[TagFate, int]:
        """Count the tags of one batch by fate: the counts sum to its size."""
        counted = Counter(line.fate for line in self.by_batch[batch])
        return {fate: counted[fate] for fate in TagFate}

    def conflicts(self) -> list[TagLine]:
        """Tags of which the tables tell what cannot all be true."""
        return [line for line in (*self.lines, *self.others) if line.conflict]


def lay_tag_ledger(season: Season, declared: Declarations, report: Report | None = None) -> TagLedger:
    """Tell what became of every tag in stock.

    Parameters
    ----------
    season, declared, report
        As in `audit.rules.ledger.lay_ledger`.
    """
    has = season.has("tag_stock", "tag"), season.has("tag_reads", "tag")
    if not season.has("handlings"):
        return TagLedger((), (), *has)
    case = Case(season, declared, declared.rules["tag_code"])
    book = open_tag_book(case)
    rows = _by_key(book.rows)
    before = _by_key(_earlier(season, book))
    least = float(declared.settings["ledger.p_likely"].value)
    meant = meant_instead(report, "tag", least) if report else {}
    likely = rows
    if meant:
        aside = (row for row in book.aside.values() if row.label in meant)
        rekeyed = [
            replace(row, key=comparable(meant[row.label], book.habit)) if row.label in meant else row
            for row in (*book.rows, *aside)
        ]
        likely = _by_key(rekeyed)
    read = _first_reads(book)
    entries = sorted(_stock(season))
    keys = _keys(case, [tag for tag, _ in entries])
    times = Counter(keys)
    told = _Told(book, rows, likely, before, read)
    lines = tuple(
        told.line(tag, batch, key, times[key]) for (tag, batch), key in zip(entries, keys, strict=True)
    )
    elsewhere = sorted({*rows, *read} - set(keys))
    others = tuple(told.line(book.printed(key), "", key, 1) for key in elsewhere)
    order = sorted(range(len(lines)), key=lambda i: (lines[i].batch, lines[i].tag))
    return TagLedger(tuple(lines[i] for i in order), others, *has)


@dataclass(frozen=True, slots=True)
class _Told:
    """What the tables tell of each tag, by its key."""

    book: TagBook
    rows: Mapping[str, list[TagRow]]
    likely: Mapping[str, list[TagRow]]
    before: Mapping[str, list[TagRow]]
    read: Mapping[str, str]

    def line(self, tag: str, batch: str, key: str, times: int) -> TagLine:
        """Tell one tag, which stands so many times in the stock."""
        on, earlier = self.rows.get(key, []), self.before.get(key, [])
        fate, likely = self._fate(key, self.rows), self._fate(key, self.likely)
        first = next(iter((*earlier, *on)), None)
        rings = sorted({row.ring for row in on if row.ring})
        said = []
        if earlier:
            said.append("fitted before this season")
        if len(rings) > 1:
            said.append(f"on {len(rings)} rings: {', '.join(rings)}")
        if times > 1:
            said.append(f"stands {times} times in the stock")
        if likely is not fate:
            said.append(f"by the findings probably {likely}")
        return TagLine(
            tag,
            batch,
            fate,
            likely,
            first.ring if first else "",
            first.day if first else "",
            first.box if first else "",
            first.label if first else "",
            self.read.get(key, ""),
            "; ".join(said),
            conflict=len(rings) > 1 or times > 1,
            fitted=not earlier and first is not None and self.book.fitted(first),
        )

    def _fate(self, key: str, rows: Mapping[str, list[TagRow]]) -> TagFate:
        if key in rows or key in self.before:
            return TagFate.ON_A_BIRD
        return TagFate.READ_ONLY if key in self.read else TagFate.IN_HAND


def _earlier(season: Season, book: TagBook) -> Iterator[TagRow]:
    """Rows of earlier seasons that have a tag."""
    if not season.has("earlier", "tag"):
        return
    frame = season.frame("earlier")
    columns = [texts_in(frame, name) for name in ("tag", "ring", "box")]
    days = np.datetime_as_string(frame["date"].to_numpy(dtype="datetime64[D]")).tolist()
    for label, tag, ring, box, day in zip(frame.index, *columns, days, strict=True):
        yield TagRow(
            label=str(label),
            place=-1,
            tag=tag,
            key=comparable(tag, book.habit) if tag else "",
            ring=ring,
            day="" if day == "NaT" else day,
            box=box,
            event="re-encountered",
            remarks="",
        )


def _by_key(rows: Iterable[TagRow]) -> dict[str, list[TagRow]]:
    found: dict[str, list[TagRow]] = {}
    # an unknown day comes last
    for row in sorted(rows, key=lambda row: (not row.day, row.day, row.box, row.label)):
        if row.key:
            found.setdefault(row.key, []).append(row)
    return found


def _first_reads(book: TagBook) -> dict[str, str]:
    read = dict.fromkeys(sorted(book.read), "")
    for day in sorted(book.read_on, reverse=True):
        read.update(dict.fromkeys(book.read_on[day], day))
    return read


def _stock(season: Season) -> Iterator[tuple[str, str]]:
    if not season.has("tag_stock", "tag"):
        return
    frame = season.frame("tag_stock")
    batches = frame["batch"].tolist() if "batch" in frame.columns else [""] * len(frame)
    for tag, batch in zip(frame["tag"].tolist(), batches, strict=True):
        if isinstance(tag, str) and tag:
            yield tag, batch if isinstance(batch, str) else ""


def _keys(case: Case, texts: list[str]) -> list[str]:
    """Keys of the tags in stock, as the book knows them."""
    tags = texts_in(case.frame("handlings"), "tag")
    reads = texts_in(case.frame("tag_reads"), "tag") if case.season.has("tag_reads", "tag") else []
    _, (_, known, _) = keys_of(case, tags, texts, reads)
    return [known.get(text, text) for text in texts]

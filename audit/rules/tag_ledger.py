"""What became of every tag in stock: the ledger of the tags. Evidence, no findings."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property
from typing import TYPE_CHECKING

from audit.models.tag_text import comparable, complete
from audit.rules.case import Case
from audit.rules.ledger import meant_instead
from audit.rules.tag_book import TagBook, TagRow, open_tag_book
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

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
    if not season.has("handlings"):
        return TagLedger((), (), season.has("tag_stock", "tag"), season.has("tag_reads", "tag"))
    book = open_tag_book(Case(season, declared, declared.rules["tag_code"]))
    rows = _by_key(book.rows)
    least = float(declared.settings["ledger.p_likely"].value)
    meant = meant_instead(report, "tag", least) if report else {}
    typed_rows = (*book.rows, *(row for row in book.aside.values() if row.label in meant))
    likely = (
        _by_key(
            [
                replace(row, key=comparable(meant[row.label], book.habit)) if row.label in meant else row
                for row in typed_rows
            ]
        )
        if meant
        else rows
    )
    read = _first_reads(book)
    entries = sorted(_stock(season))
    keys = _keys(book, [tag for tag, _ in entries])
    times = Counter(keys)
    lines = tuple(
        _line(book, tag, batch, key, (rows, likely), read, times[key])
        for (tag, batch), key in zip(entries, keys, strict=True)
    )
    elsewhere = sorted({*rows, *read} - set(keys))
    others = tuple(_line(book, book.printed(key), "", key, (rows, likely), read, 1) for key in elsewhere)
    order = sorted(range(len(lines)), key=lambda i: (lines[i].batch, lines[i].tag))
    return TagLedger(
        tuple(lines[i] for i in order), others, season.has("tag_stock", "tag"), season.has("tag_reads", "tag")
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


def _keys(book: TagBook, texts: Sequence[str]) -> list[str]:
    """Keys of the tags in stock, as the book knows them."""
    known: dict[str, str] = {}
    for text in dict.fromkeys(texts):
        tried = (comparable(text, book.habit), comparable(text), text)
        known[text] = next((key for key in tried if key in book.stock), "")
    short = [text for text, key in known.items() if not key]
    if short:
        known |= {text: comparable(text, book.habit) for text in short}
        known |= complete(short, book.stock, book.habit)
    return [known[text] for text in texts]


def _line(
    book: TagBook,
    tag: str,
    batch: str,
    key: str,
    rows: tuple[Mapping[str, list[TagRow]], Mapping[str, list[TagRow]]],
    read: Mapping[str, str],
    times: int,
) -> TagLine:
    typed, likely = rows
    fate, later = _fate(key, typed, read), _fate(key, likely, read)
    on = typed.get(key, [])
    first = on[0] if on else None
    rings = sorted({row.ring for row in on if row.ring})
    said = []
    if len(rings) > 1:
        said.append(f"on {len(rings)} rings: {', '.join(rings)}")
    if times > 1:
        said.append(f"stands {times} times in the stock")
    if later is not fate:
        said.append(f"by the findings probably {later}")
    return TagLine(
        tag,
        batch,
        fate,
        later,
        first.ring if first else "",
        first.day if first else "",
        first.box if first else "",
        first.label if first else "",
        read.get(key, ""),
        "; ".join(said),
        len(rings) > 1 or times > 1,
        first is not None and book.fitted(first),
    )


def _fate(key: str, rows: Mapping[str, list[TagRow]], read: Mapping[str, str]) -> TagFate:
    if key in rows:
        return TagFate.ON_A_BIRD
    return TagFate.READ_ONLY if key in read else TagFate.IN_HAND

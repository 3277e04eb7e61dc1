"""The ledgers as files: tables for further work, and a page to read."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.handover.folder import write_whole
from audit.handover.ledger.ledger_page import ledger_page
from audit.handover.table_file import write_table
from audit.rules.fates import Fate

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from audit.rules.ring_ledger.ledger import RingLedger
    from audit.rules.ring_ledger.lines import OtherRing, RingLine
    from audit.rules.tag_ledger import TagLedger, TagLine

__all__ = ["RING_COLUMNS", "TAG_COLUMNS", "write_ledger"]

#: Columns of ``ring-ledger.csv``, in order. Only ever extended at the end.
RING_COLUMNS = (
    "ring",
    "prefix",
    "string",
    "holder",
    "issued",
    "fate",
    "likely_fate",
    "date",
    "box",
    "species",
    "ringer",
    "sheet",
    "row",
    "remark",
)

#: Columns of ``tag-ledger.csv``, in order. Only ever extended at the end.
TAG_COLUMNS = (
    "tag",
    "batch",
    "fate",
    "likely_fate",
    "ring",
    "date",
    "box",
    "sheet",
    "row",
    "first_read",
    "remark",
)


def write_ledger(
    season: str, rings: RingLedger, tags: TagLedger, out: Path, *, inputs: Sequence[Path | None] = ()
) -> list[Path]:
    """Write ``ring-ledger.csv``, ``tag-ledger.csv`` and ``ledger.html``.

    Parameters
    ----------
    out : Path
        Folder for the results, made when it is not there.
    inputs : sequence of Path
        Files that were read: no result may replace them.

    Raises
    ------
    audit.refusal.Refusal
        The folder cannot be written to, or a result would replace a file that was read.
    """
    writers = {
        "ring-ledger.csv": lambda path: write_table(path, (RING_COLUMNS, *_ring_rows(rings))),
        "tag-ledger.csv": lambda path: write_table(path, (TAG_COLUMNS, *_tag_rows(tags))),
        "ledger.html": lambda path: path.write_text(
            ledger_page(season, rings, tags), encoding="utf-8", newline="\n"
        ),
    }
    return write_whole(writers, out, inputs)


def _ring_rows(rings: RingLedger) -> Iterator[tuple[object, ...]]:
    yield from (_ring_row(line) for line in rings.lines())
    yield from (_other_row(other, bool(rings.strings)) for other in rings.others)
    for lost in rings.lost_elsewhere:
        row = dict.fromkeys(RING_COLUMNS, "") | {
            "ring": lost.ring,
            "fate": lost.fate.value,
            "date": lost.date,
        }
        row |= {"likely_fate": lost.fate.value, "remark": "in none of the strings" if rings.strings else ""}
        yield tuple(row.values())


def _ring_row(line: RingLine) -> tuple[object, ...]:
    worn, string = line.worn, line.string
    return (
        line.ring,
        string.stem,
        str(string),
        string.holder,
        "" if string.issued is None else string.issued.date().isoformat(),
        line.fate.value,
        line.likely.value,
        line.date,
        worn.box if worn else "",
        worn.species if worn else "",
        worn.ringer if worn else "",
        worn.sheet if worn else "",
        worn.row if worn else None,
        line.remark,
    )


def _other_row(other: OtherRing, has_strings: bool) -> tuple[object, ...]:
    worn = other.worn
    remark = ""
    if has_strings:
        remark = (
            "put on, but in none of the strings" if other.asked else "of earlier years or of other people"
        )
    on = Fate.ON_A_BIRD.value
    return (
        *(worn.ring, "", "", "", "", on, on, worn.day, worn.box, worn.species, worn.ringer),
        *(worn.sheet, worn.row, remark),
    )


def _tag_rows(tags: TagLedger) -> Iterator[tuple[object, ...]]:
    yield from (_tag_row(line, line.remark) for line in tags.lines)
    for line in tags.others:
        yield _tag_row(line, "; ".join(filter(None, ("not in stock" if tags.has_stock else "", line.remark))))


def _tag_row(line: TagLine, remark: str) -> tuple[object, ...]:
    return (
        *(line.tag, line.batch, line.fate.value, line.likely.value, line.ring, line.date, line.box),
        *(line.sheet, line.row, line.read, remark),
    )

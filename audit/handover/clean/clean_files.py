"""The clean season as files: its tables, and a page that says what was decided."""

from __future__ import annotations

import re
from functools import partial
from typing import TYPE_CHECKING

from audit.handover.clean.decided_page import decided_page, decided_text
from audit.handover.folder import write_whole
from audit.handover.table_file import write_table
from audit.intake.grid import stored_text
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from pathlib import Path

    from audit.review.log_records import Damaged
    from audit.review.replay import Replayed
    from audit.season import Season, Table

__all__ = ["write_clean"]


def write_clean(
    replayed: Replayed,
    out: Path,
    *,
    inputs: Sequence[Path | None] = (),
    damaged: Sequence[Damaged] = (),
) -> list[Path]:
    """Write the clean tables, ``decisions.html`` and ``decisions.txt``.

    A table is written as ``<table>.csv``: UTF-8, headers as typed, texts as typed or as decided. Of a formula
    the result is written that the file had stored. Where several sheets make one table, each is a file of its
    own, ``<table> <sheet>.csv``, since their headers, and with them their units, may differ. A text that a
    spreadsheet would run as a formula gets an apostrophe in front.

    Parameters
    ----------
    out : Path
        Folder for the results, made when it is not there.
    inputs : sequence of Path
        Files that were read: no result may replace them.
    damaged : sequence of Damaged
        Lines of the log that do not count, for the page.

    Raises
    ------
    audit.refusal.Refusal
        The folder cannot be written to, or a result would replace a file that was read.
    """
    writers: dict[str, Callable[[Path], object]] = {
        name: partial(write_table, rows=list(_lines(table, sheet)))
        for name, table, sheet in _files(replayed.season)
    }
    page, text = decided_page(replayed, damaged), decided_text(replayed, damaged)
    writers["decisions.html"] = lambda path: path.write_text(page, encoding="utf-8", newline="\n")
    writers["decisions.txt"] = lambda path: path.write_text(f"{text}\n", encoding="utf-8", newline="\n")
    return write_whole(writers, out, inputs)


def _files(season: Season) -> Iterator[tuple[str, Table, str]]:
    taken: set[str] = set()
    for table in season.tables.values():
        sheets = list(dict.fromkeys(sheet for sheet, _ in table.columns))
        for sheet in sheets:
            name = table.name if len(sheets) == 1 else f"{table.name} {_file_name(sheet)}"
            number, unique = 1, name
            while unique.casefold() in taken:
                number += 1
                unique = f"{name} {number}"
            taken.add(unique.casefold())
            yield f"{unique}.csv", table, sheet


def _file_name(sheet: str) -> str:
    """Take out of the name of a sheet what the name of a file cannot hold."""
    return re.sub(r"[^\w .,()-]+", "-", sheet).strip(" .") or "sheet"


def _lines(table: Table, sheet: str) -> Iterator[list[str]]:
    """Give the header and the rows of one sheet, its columns in the order of the file."""
    places = [(place.letter, field, place) for (page, field), place in table.columns.items() if page == sheet]
    places.sort(key=lambda one: (len(one[0]), one[0]))
    inside = [i for i, label in enumerate(table.typed.index) if split_label(str(label))[0] == sheet]
    columns = []
    for _, field, place in places:
        texts = table.typed[field].iloc[inside].to_list()
        stored = place.written.cells if place.written is not None else ()
        if place.written is not None and len(stored) == len(texts):
            results = place.written.results
            texts = [
                stored_text(results.get(number, cell).value) if cell.formula and cell.text == text else text
                for number, (cell, text) in enumerate(zip(stored, texts, strict=True))
            ]
        columns.append(texts)
    yield [place.header for _, _, place in places]
    for row in range(len(inside)):
        yield [column[row] for column in columns]

"""A fresh workbook with all cells of a season at their places: for sources that are no .xlsx file."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from audit.handover.book.book_parts import Book
from audit.handover.book.cell_contents import put
from audit.handover.book.package import Package
from audit.handover.book.sheet_cells import SheetCells, split_address
from audit.handover.book.typed_texts import texts_of_season, texts_of_source
from audit.handover.workbook import write_fresh
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from audit.handover.book.sheet_cells import Address
    from audit.handover.clean.decided_season import DecidedSeason
    from audit.intake.grid import RawCell

__all__ = ["fresh_copy"]

_CODES = {
    dt.datetime: "yyyy-mm-dd hh:mm:ss",
    dt.date: "yyyy-mm-dd",
    dt.time: "hh:mm:ss",
    dt.timedelta: "[h]:mm:ss",
}


def fresh_copy(decided: DecidedSeason, source: Path | None, path: Path) -> dict[str, str]:
    """Write the workbook as typed: numbers, days and times as such, formulas as their results of now.

    Returns
    -------
    dict of str to str
        Sheet of the season -> sheet of the workbook.
    """
    texts = texts_of_season(decided.typed) if source is None else texts_of_source(source, decided.declared)
    names = write_fresh(texts, path)
    package = Package(path)
    try:
        book = Book(package)
        for sheet, name in names.items():
            part = book.sheets[name]
            cells = SheetCells(package.read(part))
            for address, cell in _valued(decided, sheet):
                element = cells.cell(address)
                put(element, cell.value, book.epoch)
                code = _code(cell)
                if not isinstance(cell.value, str):
                    element.set("s", str(book.styles.shown_as(code)) if code else "0")
            package.write(part, cells.content())
        book.write()
        package.save(path.with_suffix(".valued.xlsx"))
    finally:
        package.close()
    path.with_suffix(".valued.xlsx").replace(path)
    return names


def _valued(decided: DecidedSeason, sheet: str) -> Iterator[tuple[Address, RawCell]]:
    """Cells of the tables of a sheet that are more than text."""
    for table in decided.clean.tables.values():
        for (on, _), column in table.columns.items():
            letter = split_address(f"{column.letter}1")
            written = column.written
            if on != sheet or written is None or letter is None:
                continue
            labels = [label for label in map(str, table.typed.index) if split_label(label)[0] == sheet]
            if len(written.cells) != len(labels):
                continue
            for number, label in enumerate(labels):
                cell = written.results.get(number, written.cells[number])
                if not cell.merged and (cell.formula or not isinstance(cell.value, str | None)):
                    yield (split_label(label)[1], letter[1]), cell


def _code(cell: RawCell) -> str:
    if type(cell.value) is dt.datetime and cell.value.time() == dt.time():
        return _CODES[dt.date]
    own = cell.number_format
    return _CODES.get(type(cell.value), own if set(own) <= {"0"} else "")

"""The text of every cell as typed, by sheet and place."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.handover.book.sheet_cells import split_address
from audit.intake.sources import open_source
from audit.season import split_label

if TYPE_CHECKING:
    from pathlib import Path

    from audit.declarations import Declarations
    from audit.handover.book.sheet_cells import Address
    from audit.season import Season

__all__ = ["texts_of_season", "texts_of_source"]


def texts_of_source(source: Path, declared: Declarations) -> dict[str, dict[Address, str]]:
    """Read every cell of a source, those above and beside the tables as well.

    Raises
    ------
    audit.refusal.SeasonRefusal
        The source cannot be read.
    """
    return {
        sheet.name: {
            (row, column): cell.text
            for row, cells in enumerate(sheet.rows, 1)
            for column, cell in enumerate(cells, 1)
            if cell.text and not cell.merged
        }
        for sheet in open_source(source, declared).sheets
    }


def texts_of_season(season: Season) -> dict[str, dict[Address, str]]:
    """Take the cells of the tables of a season that has no file; each header stands in the row above."""
    texts: dict[str, dict[Address, str]] = {}
    for table in season.tables.values():
        places = [split_label(str(label)) for label in table.typed.index]
        first: dict[str, int] = {}
        for sheet, row in places:
            first[sheet] = min(row, first.get(sheet, row))
        for (sheet, field), column in table.columns.items():
            address = split_address(f"{column.letter}1")
            if address is None or field not in table.typed.columns:
                continue
            cells = texts.setdefault(sheet, {})
            header = first.get(sheet, 2) - 1
            if header:
                cells[header, address[1]] = column.header
            for (on, row), text in zip(places, table.typed[field].tolist(), strict=True):
                if on == sheet and isinstance(text, str) and text:
                    cells[row, address[1]] = text
    return texts

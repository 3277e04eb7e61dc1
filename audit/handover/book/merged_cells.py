"""Changed cells in merged ranges: one cell shows what many hold, unless only some of them were changed.

A merged range shows its first cell, and the audit reads that text in each of its rows. When only some of them
were changed, the range is divided, and every cell gets what the clean season has there.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.handover.book.sheet_cells import split_address
from audit.season import row_label

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from audit.handover.book.sheet_cells import Address, SheetCells
    from audit.handover.book.stored_cells import StoredCells
    from audit.handover.clean.decided_season import DecidedSeason
    from audit.intake.grid import Stored

__all__ = ["placed_in_merged"]


def placed_in_merged(
    decided: DecidedSeason,
    stored: StoredCells,
    sheet: str,
    cells: SheetCells,
    values: Mapping[Address, Stored],
) -> tuple[dict[Address, Stored], dict[Address, Address]]:
    """Say what the cells of a sheet hold once merged ranges are heeded.

    Parameters
    ----------
    sheet : str
        Name in the season.
    cells : SheetCells
        The sheet; ranges that have to be divided are.
    values : mapping of (row, column) to Stored
        What was decided.

    Returns
    -------
    values : dict of (row, column) to Stored
        What to put in: the first cell of a range for all of it, or each cell of a divided one.
    divided : dict of (row, column) to (row, column)
        Cells of ranges that were divided, and the first of each, whose format they take.
    """
    put = dict(values)
    divided: dict[Address, Address] = {}
    ranges = {corners for address in values if (corners := cells.merged_at(address)) is not None}
    for first, last in sorted(ranges):
        inside = list(_inside(first, last))
        texts = {address: _clean_text(decided, sheet, address) for address in inside}
        held = {text for text in texts.values() if text is not None}
        decided_here = [address for address in inside if address in values]
        if len(held) == 1 and all(address in values for address, text in texts.items() if text is not None):
            value = values[decided_here[0]]
            for address in decided_here:
                del put[address]
            put[first] = value
            continue
        cells.divide(first, last)
        for address in inside:
            if address in values:
                divided[address] = first
            elif address != first and texts[address] is not None and _is_known(decided, sheet, address):
                put[address] = _covered(decided, stored, sheet, address)
                divided[address] = first
    return put, divided


def _inside(first: Address, last: Address) -> Iterator[Address]:
    for row in range(first[0], last[0] + 1):
        for column in range(first[1], last[1] + 1):
            yield row, column


def _field(decided: DecidedSeason, sheet: str, address: Address) -> tuple[str, str] | None:
    """Row label and column of a cell of a table; None for a cell outside."""
    label = row_label(sheet, address[0])
    table = decided.clean.tables.get(decided.clean.table_of(label))
    if table is None or label not in table.typed.index:
        return None
    for (on, field), column in table.columns.items():
        place = split_address(f"{column.letter}1")
        if on == sheet and place is not None and place[1] == address[1]:
            return label, field
    return None


def _clean_text(decided: DecidedSeason, sheet: str, address: Address) -> str | None:
    found = _field(decided, sheet, address)
    if found is None:
        return None
    return str(decided.clean.tables[decided.clean.table_of(found[0])].typed.loc[found])


def _is_known(decided: DecidedSeason, sheet: str, address: Address) -> bool:
    """Whether the clean season has a value there: a covered measure, which nobody can read, stays empty."""
    found = _field(decided, sheet, address)
    if found is None:
        return False
    label, field = found
    frame = decided.clean.tables[decided.clean.table_of(label)].frame
    return field not in frame.columns or bool(frame[field].notna()[label])


def _covered(decided: DecidedSeason, stored: StoredCells, sheet: str, address: Address) -> Stored:
    found = _field(decided, sheet, address)
    cell = stored.cell(*found) if found is not None else None
    return cell.value if cell is not None else None

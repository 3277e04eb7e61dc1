"""Cells outside a table that its formulas depend on: a constant above the header, a sheet of settings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.intake.formulas import formula_of
from audit.intake.grid import EMPTY

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

    from audit.intake.formulas import Area, Place
    from audit.intake.grid import RawCell, Sheet

__all__ = ["MOST_CELLS", "cells_beside"]

#: Cells of one range that are looked at; a longer one has no result that is sure.
MOST_CELLS = 100_000
_MOST_IN_ALL = 1_000_000


def cells_beside(
    sheet: Sheet,
    rows: Sequence[int],
    columns: Collection[int],
    cells: Iterable[RawCell],
    sheets: Mapping[str, Sheet],
) -> dict[Place, RawCell] | None:
    """Gather the cells that formulas of one column depend on, directly or through other formulas.

    Parameters
    ----------
    sheet : Sheet
        In which the column stands.
    rows, columns : sequence of int
        Rows and columns of the table, from 0: its own cells are left out.
    cells : iterable of RawCell
        The column.
    sheets : mapping of str to Sheet
        All sheets of the file, by name in small letters.

    Returns
    -------
    dict of place to RawCell, or None
        Empty cells are among them, so that they can be told from unknown ones. None where no cell of the
        column is a formula.
    """
    waiting = [(sheet.name.casefold(), cell.in_cells) for cell in cells if cell.formula]
    if not waiting:
        return None
    own = sheet.name.casefold()
    first, last = (rows[0] + 1, rows[-1] + 1) if len(rows) and rows[-1] - rows[0] < len(rows) else (1, 0)
    known = {**sheets, own: sheet}
    left = _MOST_IN_ALL
    found: dict[Place, RawCell] = {}
    seen: set[tuple[str, Area]] = set()
    while waiting:
        on, text = waiting.pop()
        for area in formula_of(text).areas:
            name = area.sheet or on
            if (name, area) in seen or name not in known:
                continue
            seen.add((name, area))
            size = (area.bottom - area.top + 1) * (area.right - area.left + 1)
            in_rows = name == own and first <= area.top and area.bottom <= last
            if in_rows and all(column - 1 in columns for column in range(area.left, area.right + 1)):
                continue
            if size > min(left, MOST_CELLS):
                continue
            left -= size
            for place, cell in _written(known[name], name, area):
                if place not in found:
                    found[place] = cell
                    if cell.formula:
                        waiting.append((name, cell.in_cells))
    return found


def _written(sheet: Sheet, name: str, area: Area) -> Iterator[tuple[Place, RawCell]]:
    for row in range(area.top, area.bottom + 1):
        cells = sheet.rows[row - 1] if row <= len(sheet.rows) else ()
        for column in range(area.left, area.right + 1):
            yield (name, row, column), cells[column - 1] if column <= len(cells) else EMPTY

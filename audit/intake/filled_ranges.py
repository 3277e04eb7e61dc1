"""Ranges that one formula fills with its results: every cell of them holds that formula.

References
----------
ISO/IEC 29500-1, 18.3.1.40 (``f``): formulas that fill a range, tables of trials. That signs and some
functions take ranges of the same size cell by cell there is common practice of spreadsheets.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.intake.formulas import TOKEN, Area, Binary, Call, Literal, Unary, formula_of
from audit.intake.grid import RawCell, column_letter

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from audit.intake.formulas import Node

__all__ = ["fill_ranges", "in_one_cell"]

#: Row and column, from 0.
_At = tuple[int, int]
#: Functions that take ranges cell by cell.
_CELL_BY_CELL = frozenset(["ABS", "IF", "ISBLANK", "ISNUMBER", "NOT", "ROUND"])


def fill_ranges(
    rows: list[list[RawCell]], formulas: dict[_At, str], ranges: Mapping[_At, str]
) -> dict[_At, Area]:
    """Give each cell of such a range the formula, as far as cells are written.

    Parameters
    ----------
    rows : list of list of RawCell
        Changed in place.
    formulas : dict of (row, column) to str
        Formulas by the cell in which they stand, from 0; those of filled cells are added.
    ranges : mapping of (row, column) to str
        What the formula of a cell fills, such as ``H3:H14``.

    Returns
    -------
    dict of (row, column) to Area
        Each filled cell, and the range; the first cell of each among them.
    """
    filled: dict[_At, Area] = {}
    left = sum(map(len, rows))  # ranges do not overlap, unless a file is made to take long
    for first, reference in ranges.items():
        areas = formula_of(f"={reference}").areas
        if len(areas) != 1 or (areas[0].top - 1, areas[0].left - 1) != first:
            continue
        filled[first] = areas[0]
        for i, j in _within(areas[0], rows):
            left -= 1
            if left >= 0 and (i, j) not in formulas and (i, j) not in filled:
                filled[i, j] = areas[0]
                cell, formula = rows[i][j], formulas[first]
                rows[i][j] = RawCell(cell.value, formula, cell.number_format, formula)
        if left < 0:
            break
    formulas.update({place: formulas[area.top - 1, area.left - 1] for place, area in filled.items()})
    return filled


def _within(area: Area, rows: list[list[RawCell]]) -> Iterator[_At]:
    for i in range(area.top - 1, min(area.bottom, len(rows))):
        for j in range(area.left - 1, min(area.right, len(rows[i]))):
            yield i, j


def in_one_cell(text: str, filled: Area, row: int, column: int) -> str:
    """Write a formula that fills a range as it works in one cell of it.

    Parameters
    ----------
    text : str
        With its equals sign, without tables and names.
    filled : Area
        The range.
    row, column : int
        Of the cell, from 1.

    Returns
    -------
    str
        The text as it is where not all of it goes cell by cell.

    Examples
    --------
    >>> in_one_cell("=D4:D9-2*$E$4:$E$9", Area("", 4, 8, 9, 8), 6, 8)
    '=D6-2*E6'
    """
    formula = formula_of(text)
    ranges = [area for area in formula.areas if not area.is_cell]
    size = _size(filled)
    if not ranges or formula.tree is None or formula.anywhere or not _goes_cell_by_cell(formula.tree):
        return text
    if any(_size(area) != size for area in ranges):
        return text
    parts = ["="]
    body, at = text.removeprefix("="), 0
    while match := TOKEN.match(body, at):
        at = match.end()
        areas = formula_of(f"={match['area']}").areas if match["area"] is not None else ()
        if areas and not areas[0].is_cell:
            steps = areas[0].top - filled.top, areas[0].left - filled.left
            cell = f"{column_letter(column + steps[1] - 1)}{row + steps[0]}"
            parts.append(f"{match['sheet'] or ''}{cell}")
        else:
            parts.append(match[0])
    return "".join(parts)


def _size(area: Area) -> tuple[int, int]:
    return area.bottom - area.top, area.right - area.left


def _goes_cell_by_cell(node: Node) -> bool:
    if isinstance(node, Binary):
        return _goes_cell_by_cell(node.left) and _goes_cell_by_cell(node.right)
    if isinstance(node, Unary):
        return _goes_cell_by_cell(node.of)
    if isinstance(node, Call):
        return node.name in _CELL_BY_CELL and all(map(_goes_cell_by_cell, node.arguments))
    return isinstance(node, Area | Literal)

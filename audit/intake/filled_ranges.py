"""Ranges that one formula fills with its results: every cell of them holds that formula.

References
----------
ISO/IEC 29500-1, 18.3.1.40 (``f``): formulas that fill a range, tables of trials.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.intake.formulas import formula_of
from audit.intake.grid import RawCell

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

__all__ = ["fill_ranges"]

#: Row and column, from 0.
_At = tuple[int, int]


def fill_ranges(
    rows: list[list[RawCell]], formulas: dict[_At, str], ranges: Mapping[_At, str]
) -> dict[_At, _At]:
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
    dict of (row, column) to (row, column)
        Each filled cell, and the one in which its formula stands.
    """
    filled: dict[_At, _At] = {}
    left = sum(map(len, rows))  # ranges do not overlap, unless a file is made to take long
    for first, reference in ranges.items():
        for i, j in _within(reference, rows):
            left -= 1
            if left >= 0 and (i, j) not in formulas and (i, j) not in filled:
                filled[i, j] = first
                cell, formula = rows[i][j], formulas[first]
                rows[i][j] = RawCell(cell.value, formula, cell.number_format, formula)
        if left < 0:
            break
    formulas.update({place: formulas[first] for place, first in filled.items()})
    return filled


def _within(reference: str, rows: list[list[RawCell]]) -> Iterator[_At]:
    for area in formula_of(f"={reference}").areas:
        for i in range(area.top - 1, min(area.bottom, len(rows))):
            for j in range(area.left - 1, min(area.right, len(rows[i]))):
                yield i, j

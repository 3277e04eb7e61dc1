"""Sheets kept visit by visit: day and box stand in the first row of each visit, and hold for those below."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from audit.declarations import Declarations
    from audit.intake.grid import RawCell

__all__ = ["ByVisits", "TypedAnew", "by_visits_of", "carried_down", "is_kept_by_visits", "written_out"]

#: A cell that is read as the one above, though nothing was typed into it.
_AS_ABOVE = '"'


@dataclass(frozen=True, slots=True)
class ByVisits:
    """From when on rows without day and box are a way of keeping a sheet, and no oversight.

    Attributes
    ----------
    share : float
        Share of rows with neither.
    visits : int
        Visits of which two rows or more have neither, below each other: where several people type, some
        repeat day and box and some do not.
    """

    share: float
    visits: int


def by_visits_of(declared: Declarations) -> ByVisits:
    """Take the limits from the declarations."""
    return ByVisits(
        float(declared.settings["reading.carried.share"].value),
        int(declared.settings["reading.carried.visits"].value),
    )


def is_kept_by_visits(days: Sequence[bool], boxes: Sequence[bool], limits: ByVisits) -> bool:
    """Whether day and box stand in the first row of visits alone, of all or of several.

    Parameters
    ----------
    days, boxes : sequence of bool
        Whether a day, and a box, is typed, row by row.
    limits : ByVisits
    """
    neither = [not (day or box) for day, box in zip(days, boxes, strict=True)]
    if not any(neither) or neither[0] or not (days[0] and boxes[0]):
        return False
    visits = sum(
        here and below and not above
        for above, here, below in zip(neither, neither[1:], neither[2:], strict=False)
    )
    return sum(neither) >= limits.share * len(neither) or visits >= limits.visits


def carried_down(
    days: Sequence[RawCell], boxes: Sequence[RawCell], limits: ByVisits
) -> tuple[list[RawCell], list[RawCell], int]:
    """Let day and box hold for the rows below, where that is how a sheet is kept.

    A row that has a day of its own and no box is left as it is, and so are the boxes below it: nobody can
    tell which box it was.

    Parameters
    ----------
    days, boxes : sequence of RawCell
        Cells of the two columns, row by row.
    limits : ByVisits

    Returns
    -------
    days, boxes : list of RawCell
        With marks for "as above" in the cells that are to be read so; their texts stay empty.
    rows : int
        How many rows got a mark.
    """
    day, box = ([bool(cell.text.strip()) for cell in cells] for cells in (days, boxes))
    if not is_kept_by_visits(day, box, limits):
        return list(days), list(boxes), 0
    told_days = [cell if has else _mark(cell) for cell, has in zip(days, day, strict=True)]
    told_boxes: list[RawCell] = []
    known = False
    for cell, has, own_day in zip(boxes, box, day, strict=True):
        known = has or (known and not own_day)
        told_boxes.append(_mark(cell) if known and not has else cell)
    marked = zip(days, told_days, boxes, told_boxes, strict=True)
    rows = sum(first is not second or third is not fourth for first, second, third, fourth in marked)
    return told_days, told_boxes, rows


@dataclass(frozen=True, slots=True)
class TypedAnew:
    """Day or box of a sheet kept visit by visit, of which some cells are typed anew.

    Attributes
    ----------
    cells : sequence of RawCell
        As stored, with marks for "as above".
    texts : sequence of str
        Texts of now.
    typed : mapping of int to str
        What is to be typed, by row.
    """

    cells: Sequence[RawCell]
    texts: Sequence[str]
    typed: Mapping[int, str]

    @property
    def is_carried(self) -> bool:
        """Whether some cell holds what stands above it."""
        return any(_is_mark(cell) for cell in self.cells)

    def above(self, row: int) -> str:
        """Text that a row holds now."""
        return next((self.texts[k] for k in range(row, -1, -1) if self.texts[k]), "")

    def is_open(self, row: int) -> bool:
        """Whether a row holds what stands above it, and is not typed itself."""
        return row not in self.typed and not self.texts[row] and _is_mark(self.cells[row])


#: Whether a cell is one of days, its row and its text, and the edited cell that it follows from.
WrittenOut = tuple[bool, int, str, tuple[bool, int]]


def written_out(days: TypedAnew, boxes: TypedAnew, limits: ByVisits) -> list[WrittenOut]:
    """Say which cells must be written out where a day or a box is typed anew for its own row alone.

    The row below keeps what it was read with. A row with a day of its own needs its box, too. Where so many
    are written out that the sheet would not be taken for one kept visit by visit, all are.

    Parameters
    ----------
    days, boxes : TypedAnew
    limits : ByVisits
    """
    found: dict[tuple[bool, int], tuple[str, tuple[bool, int]]] = {}
    for is_day, column in ((True, days), (False, boxes)):
        for row, text in column.typed.items():
            below = row + 1
            held = column.above(row)
            if below < len(column.cells) and column.is_open(below) and held not in ("", text):
                found[is_day, below] = held, (is_day, row)
    dated = {row: (True, row) for row in days.typed if not days.texts[row]}
    dated |= {row: source for (is_day, row), (_, source) in found.items() if is_day}
    for row, source in dated.items():
        if boxes.is_open(row) and boxes.above(row):
            found.setdefault((False, row), (boxes.above(row), source))
    first = next(((is_day, row) for is_day, one in ((True, days), (False, boxes)) for row in one.typed), None)
    filled = {row for _, row in found} | {row for one in (days, boxes) for row in one.typed}
    rows = range(len(days.texts))
    then = [[bool(one.texts[row]) or row in filled for row in rows] for one in (days, boxes)]
    if first is not None and found and not is_kept_by_visits(then[0], then[1], limits):
        for is_day, column in ((True, days), (False, boxes)):
            for row in rows:
                if column.is_open(row) and column.above(row):
                    found.setdefault((is_day, row), (column.above(row), first))
    return [(*key, *value) for key, value in found.items()]


def _is_mark(cell: RawCell) -> bool:
    return cell.value == _AS_ABOVE and not cell.text


def _mark(cell: RawCell) -> RawCell:
    return replace(cell, value=_AS_ABOVE)

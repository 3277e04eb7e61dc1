"""Sheets kept visit by visit: day and box stand in the first row of each visit, and hold for those below."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.intake.grid import RawCell

__all__ = ["carried_down"]

#: A cell that is read as the one above, though nothing was typed into it.
_AS_ABOVE = '"'


def carried_down(
    days: Sequence[RawCell], boxes: Sequence[RawCell], share: float
) -> tuple[list[RawCell], list[RawCell], int]:
    """Let day and box hold for the rows below, where that is how a sheet is kept.

    A row that has a day of its own and no box is left as it is, and so are the boxes below it: nobody can
    tell which box it was.

    Parameters
    ----------
    days, boxes : sequence of RawCell
        Cells of the two columns, row by row.
    share : float
        Share of rows with neither from which this is a way of keeping the sheet and no oversight.

    Returns
    -------
    days, boxes : list of RawCell
        With marks for "as above" in the cells that are to be read so; their texts stay empty.
    rows : int
        How many rows got a mark.
    """
    day, box = ([bool(cell.text.strip()) for cell in cells] for cells in (days, boxes))
    neither = sum(not (one or other) for one, other in zip(day, box, strict=True))
    if not neither or neither < share * len(day) or not (day[0] and box[0]):
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


def _mark(cell: RawCell) -> RawCell:
    return replace(cell, value=_AS_ABOVE)

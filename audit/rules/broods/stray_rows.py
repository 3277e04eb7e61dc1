"""Rows that stand among those of another box."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.rules.broods.words import birds, whole
from audit.rules.case import At

if TYPE_CHECKING:
    from audit.findings import Finding
    from audit.rules.box_visits import BoxVisit
    from audit.rules.broods.visits import BroodVisits


__all__ = ["other_box", "stray_box"]


def stray_box(seen: BroodVisits, visit: BoxVisit, row: int) -> str:
    """Box between whose rows a row stands, when that is not its own."""
    sheet = seen.sheet
    if row in (0, len(sheet.labels) - 1) or len(visit.rows) == 1:
        return ""
    above, below = row - 1, row + 1
    same_day = sheet.dates[above] == sheet.dates[row] == sheet.dates[below]
    together = sheet.boxes[above] == sheet.boxes[below] != sheet.boxes[row]
    return str(sheet.boxes[above]) if same_day and together else ""


def other_box(seen: BroodVisits, visit: BoxVisit, row: int, box: str, size: float) -> Finding:
    """Blame the box of a row that stands among those of another."""
    return seen.blame(
        "other_box",
        [At(seen.sheet.labels[row], "box", box)],
        f"{birds(visit.handled)} are written for box {visit.box} on {visit.date}, more than its brood"
        f" of {whole(size)}, and this row stands among those of box {box}.",
        [(seen.sheet.labels[other], "box") for other in (row - 1, row + 1)],
    )

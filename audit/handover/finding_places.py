"""Where findings stand on a page: by box, however it was written, and by day."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from audit.models.box_label import joined_alike, natural_order

if TYPE_CHECKING:
    from collections.abc import Iterable

    from audit.findings import Finding
    from audit.season import Season

__all__ = ["Place", "by_place"]

#: Box (empty where none was typed), day or sheet.
Place = tuple[str, str]


def by_place(
    findings: Iterable[Finding], season: Season
) -> tuple[list[tuple[Place, Finding]], dict[str, str]]:
    """Sort findings by box and day.

    Parameters
    ----------
    findings : iterable of Finding
    season : Season

    Returns
    -------
    placed : list of (Place, Finding)
        Labels of boxes that differ in capitals and joints alone are one place.
    written : dict of str to str
        How most rows write each box.
    """
    days, boxes = _days(season), _boxes(season)
    placed = [(_place(finding, days, boxes), finding) for finding in findings]
    return sorted(placed, key=lambda one: _natural(one[0])), _written(boxes.values())


def _boxes(season: Season) -> dict[str, str]:
    """Box of each row that has one, by row label: a mark for "as above" is read, too."""
    boxes: dict[str, str] = {}
    for table in season.tables.values():
        if "box" in table.frame.columns:
            known = table.frame["box"].dropna()
            boxes.update(zip(map(str, known.index), map(str, known), strict=True))
    return boxes


def _written(boxes: Iterable[str]) -> dict[str, str]:
    """How most rows write each box that some write otherwise, such as SL01 for SL-01."""
    found: dict[str, str] = {}
    for box, _ in Counter(box.strip().upper() for box in boxes).most_common():
        found.setdefault(joined_alike(box) or box, box)
    return found


def _days(season: Season) -> dict[str, str]:
    """Day of each row that has one, by row label."""
    days: dict[str, str] = {}
    for table in season.tables.values():
        if "date" in table.frame.columns:
            known = table.frame["date"].dropna()
            days.update(zip(map(str, known.index), known.dt.strftime("%Y-%m-%d"), strict=True))
    return days


def _place(finding: Finding, days: dict[str, str], boxes: dict[str, str]) -> Place:
    cell = finding.suspects[0].cell
    day = days.get(cell.label) or cell.marks.date
    typed = boxes.get(cell.label, cell.marks.box).strip().upper()
    box = joined_alike(typed) or typed
    return (box, day) if box or day else ("", f"in {cell.sheet}")


def _natural(place: Place) -> tuple[bool, list[tuple[int, str]], str]:
    """Let SL-9 stand before SL-10, and rows without a box last."""
    return not place[0], natural_order(place[0]), place[1]

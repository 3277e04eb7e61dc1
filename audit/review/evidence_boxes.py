"""What the tables of visits and boxes say, and the rows of the visit that may be meant."""

from __future__ import annotations

from bisect import bisect_left
from typing import TYPE_CHECKING

from audit.review.matter import candidates

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.review.excerpts import Excerpt
    from audit.review.matter import Matter

__all__ = ["box_sheets", "meant_visits", "visit_sheets"]

#: So many rows are shown.
_MOST, _MOST_BOXES = 12, 8
#: Visits of a box before and after the day in question.
_BESIDE = 1
_COUNTS = frozenset({"date", "box", "brood_size"})
_BIRDS = ("date", "time", "box", "species", "ring", "tag", "age", "wing_mm", "brood_size", "remarks")


def visit_sheets(matter: Matter) -> Iterator[Excerpt | None]:
    """Show what the table of visits has of box and day, as typed and as they may be meant."""
    shelves = matter.shelves
    if not matter.asked("handlings") & _COUNTS or not shelves.has("visits", "date", "box"):
        return
    visits = shelves.visits("visits")
    for box in dict.fromkeys(box for box, _ in _places(matter, "handlings")):
        days = shelves.days_of_box("visits", box)
        rows: set[int] = set()
        for day in (day for other, day in _places(matter, "handlings") if other == box):
            at = bisect_left(days, day)
            there = at < len(days) and days[at] == day
            near = days[max(0, at - _BESIDE) : at + there + _BESIDE]
            rows.update(row for one in near for row in visits[box, one])
        labels = shelves.labels("visits")
        order = sorted(rows, key=lambda row: (shelves.understood(labels[row], "date"), row))
        yield matter.cut("visits", order, f"Visits of box {box}", most=_MOST)


def meant_visits(matter: Matter) -> Iterator[Excerpt | None]:
    """Show the birds that stand under the box or day that may be meant, or under a visit in question."""
    shelves = matter.shelves
    for table in ("handlings", "visits"):
        asked = matter.asked(table)
        if table == "handlings" and not asked & {"box", "date"}:
            continue
        shown = {place for label in matter.labels(table) if (place := _place(matter, label)) is not None}
        for box, day in _places(matter, table):
            rows = shelves.visits("handlings").get((box, day), ())
            if rows and (table == "visits" or (box, day) not in shown):
                yield matter.cut("handlings", rows, f"Birds of box {box} on {day}", most=_MOST, fields=_BIRDS)


def box_sheets(matter: Matter) -> Iterator[Excerpt | None]:
    """Show the table of boxes for a box in question; where it has none of that label, those one slip away."""
    shelves = matter.shelves
    tables = [table for table in ("handlings", "visits") if "box" in matter.asked(table)]
    if not tables or not shelves.has("boxes", "box"):
        return
    boxes = [box for table in tables for box in (*matter.now(table, "box"), *matter.meant(table, "box"))]
    rows = {row for box in boxes for row in shelves.of_box(box) or shelves.boxes_near(box)}
    yield matter.cut("boxes", sorted(rows), "Table of boxes", most=_MOST_BOXES)


def _place(matter: Matter, label: str) -> tuple[str, str] | None:
    box, day = (matter.shelves.understood(label, field) for field in ("box", "date"))
    return (box, day) if box and day else None


def _places(matter: Matter, table: str) -> list[tuple[str, str]]:
    """Box and day of each row in question, as they stand, then as they may be meant."""
    found: list[tuple[str, str]] = []
    for label in matter.labels(table):
        now = _place(matter, label)
        found += [now] if now else []
    for suspect in matter.by_table.get(table, ()):
        box, day = (matter.shelves.understood(suspect.cell.label, field) for field in ("box", "date"))
        for text in (one.text for one in candidates(suspect)):
            if suspect.cell.field == "box" and day:
                found.append((text, day))
            elif suspect.cell.field == "date" and box:
                found.append((box, text))
    return list(dict.fromkeys(found))

"""The sheet of the cells in question: their rows, the whole visit, and the rows above and below."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.review.excerpts import excerpt
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.review.excerpts import Excerpt
    from audit.review.matter import Matter

__all__ = ["own_sheets"]

#: Rows above and below each row in question that are always shown.
_BESIDE = 2
#: So many rows are shown; the rows in question may be more, as where a column has slid.
_MOST, _MOST_BLAMED = 24, 60


def own_sheets(matter: Matter) -> Iterator[Excerpt]:
    """Cut the rows in question out of their sheets, the sheet of the first one first."""
    for table in matter.by_table:
        by_sheet: dict[str, list[int]] = {}
        for label in matter.labels(table):
            row = matter.shelves.row(label)
            if row is not None:
                by_sheet.setdefault(split_label(label)[0], []).append(row)
        for sheet, rows in by_sheet.items():
            yield _around(matter, table, sheet, rows)


def _around(matter: Matter, table: str, sheet: str, blamed: list[int]) -> Excerpt:
    labels = matter.shelves.labels(table)
    inside = f"{sheet}!"

    def here(row: int) -> bool:
        return 0 <= row < len(labels) and labels[row].rpartition("!")[0] + "!" == inside

    seen = {label for label, _ in matter.marks.witnesses}
    beside = {
        near for row in blamed for near in range(row - _BESIDE, row + _BESIDE + 1) if near >= 0 and here(near)
    }
    visits = matter.shelves.visits(table)
    visit = {
        row
        for label in dict.fromkeys(labels[row] for row in blamed)
        for row in visits.get(_visit_of(matter, label), ())
        if here(row)
    }
    witnesses = {row for row in beside | visit if labels[row] in seen}
    order = [sorted(blamed), sorted(witnesses), sorted(beside), _nearest(visit, blamed)]
    wanted = list(dict.fromkeys(row for some in order for row in some))
    most = min(max(_MOST, len(set(blamed)) + 2 * _BESIDE), _MOST_BLAMED)
    kept = sorted(wanted[:most])
    return excerpt(
        matter.shelves.season,
        table,
        kept,
        matter.marks,
        title=f"{sheet} as typed",
        kind="own",
        left_out=len(wanted) - len(kept),
    )


def _visit_of(matter: Matter, label: str) -> tuple[str, str]:
    box, day = (matter.shelves.understood(label, field) for field in ("box", "date"))
    # without a box or a day there is no visit
    return (box, day) if box and day else ("", "-")


def _nearest(rows: set[int], to: list[int]) -> list[int]:
    return sorted(rows, key=lambda row: (min(abs(row - one) for one in to), row))

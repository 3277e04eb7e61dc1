"""The rows of a visit with their rings and tags, and codes put back into their rows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from audit.models.ring_number import bare

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from audit.rules.ring_rows import Ringings
    from audit.rules.tag_book import TagBook

__all__ = [
    "Crossing",
    "Field",
    "How",
    "VisitRow",
    "changed",
    "code_of",
    "contradictions",
    "put_back",
    "rows_of_visits",
]

Field = Literal["ring", "tag"]
How = Literal["exchanged", "slid", "counted", "slipped"]


@dataclass(frozen=True, slots=True)
class VisitRow:
    """One handling of a visit: its place in the sheet, its ring and its tag, empty where not there."""

    place: int
    ring: str
    tag: str


@dataclass(frozen=True, slots=True)
class Crossing:
    """Codes of one visit put back into their rows.

    Attributes
    ----------
    visit : int
        As in `Ringings`.
    field : {'ring', 'tag'}
        Which codes.
    meant : tuple of (int, str)
        Row by its place in the sheet, and the bare ring or the key of the tag that belongs there.
    how : {'exchanged', 'slid', 'counted', 'slipped'}
        Some were exchanged; a run of cells has slid by one row; a cell was drawn down and counted on; or the
        hand slipped in one.
    """

    visit: int
    field: Field
    meant: tuple[tuple[int, str], ...]
    how: How

    @property
    def rows(self) -> frozenset[int]:
        """Places of the rows."""
        return frozenset(place for place, _ in self.meant)


def rows_of_visits(rings: Ringings, book: TagBook | None) -> dict[int, tuple[VisitRow, ...]]:
    """Lay out the rows by visit, in sheet order."""
    place_of = {str(label): i for i, label in enumerate(rings.labels)}
    tags = {} if book is None else {place_of[row.label]: row.key for row in book.rows}
    return {
        visit: tuple(VisitRow(i, bare(str(rings.ring[i])), tags.get(i, "")) for i in sorted(rows))
        for visit, rows in rings.rows_of_visit.items()
    }


def code_of(row: VisitRow, field: Field) -> str:
    """Return the ring or the tag of a row, empty where it has none."""
    return row.ring if field == "ring" else row.tag


def changed(
    held: Sequence[VisitRow], codes: Sequence[str], way: Sequence[str]
) -> tuple[tuple[int, str], ...]:
    """List the rows whose code changes, each with the code that is meant there."""
    return tuple(
        (row.place, code) for row, code, typed in zip(held, way, codes, strict=True) if code != typed
    )


def put_back(rows: Sequence[VisitRow], crossing: Crossing) -> tuple[VisitRow, ...]:
    """Return the rows of a visit as a crossing means them."""
    meant = dict(crossing.meant)
    return tuple(
        row
        if row.place not in meant
        else VisitRow(row.place, meant[row.place], row.tag)
        if crossing.field == "ring"
        else VisitRow(row.place, row.ring, meant[row.place])
        for row in rows
    )


def contradictions(
    visits: Iterable[Sequence[VisitRow]], outside: tuple[Mapping[str, set[str]], Mapping[str, set[str]]]
) -> int:
    """Count the tags too many of all rings, and the rings too many of all tags."""
    tags = {ring: set(found) for ring, found in outside[0].items()}
    rings = {tag: set(found) for tag, found in outside[1].items()}
    for rows in visits:
        for row in rows:
            if row.ring and row.tag:
                tags.setdefault(row.ring, set()).add(row.tag)
                rings.setdefault(row.tag, set()).add(row.ring)
    return sum(max(len(found) - 1, 0) for side in (tags, rings) for found in side.values())

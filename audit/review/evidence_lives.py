"""The same bird at its other visits, of this season and of earlier ones, by ring and by tag."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.review.excerpts import Excerpt
    from audit.review.matter import Matter

__all__ = ["life_sheets"]

#: So many visits of one bird are shown, and so many birds: a column that has slid names dozens.
_MOST, _MOST_BIRDS = 10, 6
_MASSES = ("gross_g", "bag_g", "net_g")
#: Columns that are shown for a question about any of the first.
_FIELDS: tuple[tuple[frozenset[str], tuple[str, ...]], ...] = (
    (
        frozenset({*_MASSES, "wing_mm", "age_days", "hatch_date"}),
        (*_MASSES, "wing_mm", "age_days", "hatch_date"),
    ),
    (frozenset({"ring", "tag", "date", "box"}), ("wing_mm", "remarks")),
    (frozenset({"ring_leg", "tag_leg"}), ("ring_leg", "tag_leg")),
)
_ALWAYS = ("date", "box", "species", "ring", "tag", "age", "event", "sex")
#: Columns that tell nothing about a bird's life.
_APART = frozenset({"time", "brood_size", "ringer", "scribe", "condition", "remarks"})
#: Codes by which a bird is known.
_CODES = ("ring", "tag")


def life_sheets(matter: Matter) -> Iterator[Excerpt | None]:
    """Show the rows with each ring and tag in question, or with the ring of the bird in question."""
    told: set[tuple[str, frozenset[int]]] = set()
    own = set(matter.labels("handlings"))
    for field, code, meant in _codes(matter):
        word = f"{'Ring' if field == 'ring' else 'Tag'} {code}{', as suggested,' if meant else ''}"
        for table, where in (("handlings", "this season"), ("earlier", "earlier seasons")):
            if len(told) == _MOST_BIRDS:
                return
            rows = _rows(matter, table, field, code)
            labels = matter.shelves.labels(table) if rows else ()
            others = [row for row in rows if labels[row] not in own]
            # the rows in question are on the desk already
            if not others or (table, frozenset(rows)) in told:
                continue
            told.add((table, frozenset(rows)))
            yield matter.cut(
                table,
                _in_time(matter, table, rows),
                f"{word} in {where}",
                most=_MOST,
                fields=_fields(matter),
                near=[row for row in rows if labels[row] in own],
            )


def _codes(matter: Matter) -> Iterator[tuple[str, str, bool]]:
    """Name each code with its column, and whether it is one that may be meant."""
    asked = matter.asked("handlings")
    if asked and not asked <= _APART:
        by = [field for field in _CODES if field in asked] or ["ring"]
        # of a bird whose ring is in doubt the tag tells, and the other way round
        by = list(_CODES) if set(by) & asked or asked & {"date", "box"} else by
        for field in by:
            for code in matter.now("handlings", field):
                yield field, code, False
            for code in matter.meant("handlings", field):
                yield field, code, True
    for table, field in (("ring_losses", "ring"), ("tag_stock", "tag"), ("tag_reads", "tag")):
        if field in matter.asked(table):
            for code in matter.now(table, field):
                yield field, code, False
            for code in matter.meant(table, field):
                yield field, code, True


def _rows(matter: Matter, table: str, field: str, code: str) -> tuple[int, ...]:
    shelves = matter.shelves
    return shelves.of_ring(table, code) if field == "ring" else shelves.of_tag(table, code)


def _in_time(matter: Matter, table: str, rows: tuple[int, ...]) -> list[int]:
    labels = matter.shelves.labels(table)
    return sorted(rows, key=lambda row: (matter.shelves.understood(labels[row], "date"), row))


def _fields(matter: Matter) -> frozenset[str]:
    asked = matter.asked("handlings")
    more = (name for some, names in _FIELDS if asked & some for name in names)
    return frozenset({*_ALWAYS, *asked, *more})

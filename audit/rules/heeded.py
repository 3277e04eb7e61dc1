"""Columns that rules heed because of the evidence which several of them lay out together."""

from __future__ import annotations

from collections.abc import Mapping

__all__ = ["BIRDS", "BOX_VISITS", "READER_CLOCK", "RINGINGS", "TAG_BOOK", "WEIGHINGS", "together"]

Columns = Mapping[str, tuple[str, ...]]

#: `audit.rules.ringings`: first ringings in order, the strings issued, the rings lost.
RINGINGS: Columns = {
    "handlings": ("date", "box", "ring", "age", "event", "ringer"),
    "ring_stock": ("prefix", "first", "last", "issued_to", "issued"),
    "ring_losses": ("ring",),
}
#: `audit.rules.reader_clock`: when each tag was really read.
READER_CLOCK: Columns = {
    "handlings": ("date", "time", "tag"),
    "tag_stock": ("tag",),
    "tag_reads": ("read_at", "tag", "reader"),
}
#: `audit.rules.tag_book`: tags of the sheet, the stock and the reader, side by side.
TAG_BOOK: Columns = {
    "handlings": ("date", "time", "box", "ring", "tag", "event", "remarks"),
    "tag_stock": ("tag",),
    "tag_reads": ("read_at", "tag", "reader"),
}
#: `audit.rules.weighings`: masses, the bags of a day, what a bird of this kind weighs.
WEIGHINGS: Columns = {
    "handlings": (
        *("date", "box", "species", "age", "ringer"),
        *("gross_g", "bag_g", "net_g", "wing_mm"),
    ),
}
#: `audit.rules.birds`: each bird, its size, age, brood and life.
BIRDS: Columns = {
    "handlings": (
        *("date", "box", "species", "ring", "tag", "age", "sex"),
        *("gross_g", "bag_g", "net_g", "wing_mm", "age_days", "hatch_date"),
    ),
}
#: `audit.rules.box_visits`: what was seen at each visit of a box.
BOX_VISITS: Columns = {
    "handlings": ("date", "box", "species", "ring", "age", "wing_mm", "brood_size", "condition", "remarks"),
    "visits": ("date", "box", "alive", "eggs"),
}


def together(*parts: Columns) -> dict[str, tuple[str, ...]]:
    """Put columns together, table by table.

    Examples
    --------
    >>> together({"visits": ("date", "box")}, {"visits": ("box", "alive")}, {"boxes": ("box",)})
    {'visits': ('date', 'box', 'alive'), 'boxes': ('box',)}
    """
    tables = dict.fromkeys(table for part in parts for table in part)
    return {
        table: tuple(dict.fromkeys(field for part in parts for field in part.get(table, ())))
        for table in tables
    }

"""What the hand reader and the stock of tags say about a tag, a day or a time in question."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.review.excerpts import Excerpt
    from audit.review.matter import Matter
    from audit.review.shelves import Reads, Shelves

__all__ = ["read_sheets", "tag_stock_sheets"]

#: So many reads of a day are shown, and so many rows of the stock.
_MOST, _MOST_IN_STOCK = 24, 8
#: Reads before the first and after the last one of the visit.
_BESIDE = 2
#: Rows above and below that tell where in the download a visit stands, when none of its own tags was read.
_ANCHORS = 6


def read_sheets(matter: Matter) -> Iterator[Excerpt | None]:
    """Show what the hand reader read around the visit, on the day as typed and on that which may be meant."""
    shelves = matter.shelves
    if not shelves.has("tag_reads", "tag") or not matter.asked("handlings") & {"tag", "date", "time"}:
        return
    reads = shelves.reads()
    meant = {shelves.key(tag) for tag in matter.meant("handlings", "tag")}
    days = [*matter.now("handlings", "date"), *matter.meant("handlings", "date")]
    told: set[str] = set()
    for day in dict.fromkeys(days):
        places = _around(matter, reads, day, meant)
        told |= {reads.keys[place] for place in places}
        yield _cut(matter, reads, places, f"What the hand reader read on {day}", meant)
    elsewhere = [i for i, key in enumerate(reads.keys) if key in meant - told]
    yield _cut(matter, reads, elsewhere, "What may be meant was read on other days", meant)


def tag_stock_sheets(matter: Matter) -> Iterator[Excerpt | None]:
    """Show the stock of each tag in question; where it has none of that number, the ones next to it."""
    shelves = matter.shelves
    tables = [table for table in ("handlings", "tag_reads") if "tag" in matter.asked(table)]
    if not tables or not shelves.has("tag_stock", "tag"):
        return
    tags = [tag for table in tables for tag in (*matter.now(table, "tag"), *matter.meant(table, "tag"))]
    rows = {row for tag in tags for row in shelves.of_tag("tag_stock", tag) or shelves.tags_near(tag)}
    yield matter.cut("tag_stock", sorted(rows), "Tags in stock", most=_MOST_IN_STOCK)


def _around(matter: Matter, reads: Reads, day: str, meant: set[str]) -> list[int]:
    """Places of the reads of a day between those of a visit, and of those that may be meant."""
    on = reads.on.get(day, ())
    if not on:
        return []
    shelves = matter.shelves
    visit = {
        row
        for label in matter.labels("handlings")
        for row in (
            shelves.row(label),
            *shelves.visits("handlings").get((shelves.understood(label, "box"), day), ()),
        )
        if row is not None
    }
    at = _read(shelves, reads, on, visit)
    if not at:
        beside = {near for row in visit for near in range(row - _ANCHORS, row + _ANCHORS + 1)}
        at = _read(shelves, reads, on, beside)
    wanted = {place for place in on if reads.keys[place] in meant}
    for place in at:
        wanted.update(near for near in range(place - _BESIDE, place + _BESIDE + 1) if on[0] <= near <= on[-1])
    return sorted(wanted & set(on))


def _read(shelves: Shelves, reads: Reads, on: Sequence[int], rows: set[int]) -> list[int]:
    labels = shelves.labels("handlings")
    keys = {shelves.key(shelves.understood(labels[row], "tag")) for row in rows if 0 <= row < len(labels)}
    return [place for place in on if reads.keys[place] in keys - {""}]


def _cut(matter: Matter, reads: Reads, places: list[int], title: str, meant: set[str]) -> Excerpt | None:
    rows = [reads.rows[place] for place in places]
    labels = matter.shelves.labels("tag_reads")
    place_of = {labels[reads.rows[place]]: place for place in places}
    beside = {"row": ("row", lambda label: _rows_with(matter.shelves, reads, place_of[label]))}
    if any(reads.stored[place] != reads.moments[place] for place in places):
        title += ", its clock set right"
        beside = {
            "moment": ("set right", lambda label: reads.moments[place_of[label]].replace("T", " ")),
            **beside,
        }
    near = [reads.rows[place] for place in places if reads.keys[place] in meant]
    return matter.cut(
        "tag_reads", rows, title, most=_MOST, near=near or rows[len(rows) // 2 :][:1], beside=beside
    )


def _rows_with(shelves: Shelves, reads: Reads, place: int) -> str:
    """Say which rows have the tag of a read: those of its day, else those of other days."""
    labels = shelves.labels("handlings")
    rows = shelves.of_tag("handlings", reads.keys[place])
    day = reads.moments[place].partition("T")[0]
    own = [row for row in rows if shelves.understood(labels[row], "date") == day]
    if own:
        return ", ".join(str(split_label(labels[row])[1]) for row in own)
    other = [f"{split_label(labels[row])[1]} on {shelves.understood(labels[row], 'date')}" for row in rows]
    return ", ".join(other) or "none"

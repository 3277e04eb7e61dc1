"""What speaks against a ring or a tag: another bird has it, it is lost, or the stock does not have it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.models.tag_text import canonical
from audit.review.excerpts import place_of
from audit.review.shelves import shelves_of
from audit.review.typed_cell import Objection
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.review.shelves import Shelves
    from audit.review.typed_cell import TypedCell

__all__ = ["of_ring", "of_tag"]

_FOUND = "re-encountered"
#: What two rows of one bird agree in, whenever it is met.
_SAME = ("species", "sex")


def of_ring(cell: TypedCell) -> Iterator[Objection]:
    """Object to a ring that another bird has, that is lost, or that was not issued."""
    if cell.table != "handlings" or cell.field != "ring" or not cell.text:
        return
    ring, shelves = cell.text, shelves_of(cell.season, cell.declared)
    labels = shelves.labels("handlings")
    for row in shelves.of_ring("handlings", ring):
        why = "" if labels[row] == cell.label else _why_another(cell, shelves, labels[row], "tag")
        if why:
            yield Objection(
                "suspect", f"Ring {cell.shown} is on another bird in row {_row(labels[row])}: {why}."
            )
            break
    lost = shelves.of_ring("ring_losses", ring)
    if lost:
        label = shelves.labels("ring_losses")[lost[0]]
        fate = shelves.understood(label, "fate") or "lost"
        yield Objection(
            "suspect", f"Ring {cell.shown} is among the losses as {fate} (row {_row(label)}): look again."
        )
    earlier = shelves.of_ring("earlier", ring)
    found = cell.said("event") == _FOUND
    if earlier and cell.said("event") == "ringed":
        place = place_of(shelves.labels("earlier")[earlier[0]], "earlier")
        yield Objection(
            "suspect", f"Ring {cell.shown} was put on a bird in an earlier season ({place}): look again."
        )
    sound = any(not string.fault for string in shelves.strings())
    if sound and not earlier and not found and not shelves.holds(ring):
        yield Objection(
            "suspect",
            f"Ring {cell.shown} is in no string of the stock: look again, or mend that list.",
        )


def of_tag(cell: TypedCell) -> Iterator[Objection]:
    """Object to a tag of no known form, on another bird, or in no stock."""
    if cell.table != "handlings" or cell.field != "tag" or not cell.text:
        return
    tag, shelves = cell.text, shelves_of(cell.season, cell.declared)
    if canonical(shelves.key(tag)) is None:
        yield Objection("suspect", f"Tag {cell.shown} is no tag number in any known form: count its digits.")
        return
    labels = shelves.labels("handlings")
    for row in shelves.of_tag("handlings", tag):
        why = "" if labels[row] == cell.label else _why_another(cell, shelves, labels[row], "ring")
        if why:
            yield Objection(
                "suspect", f"Tag {cell.shown} is on another bird in row {_row(labels[row])}: {why}."
            )
            break
    known = shelves.of_tag("tag_stock", tag) or shelves.of_tag("earlier", tag)
    if shelves.has("tag_stock", "tag") and not known and cell.said("event") != _FOUND:
        yield Objection(
            "suspect", f"Tag {cell.shown} is not in the stock of tags: look again, or mend that list."
        )


def _why_another(cell: TypedCell, shelves: Shelves, other: str, code: str) -> str:
    """Say by what another row with the same code is another bird; empty where it may be the same one."""
    if cell.said("event") == "ringed" and shelves.understood(other, "event") == "ringed" and code == "tag":
        return f"it was put on there, too, on {_when(shelves, other)}"
    own = cell.said(code)
    here, there = shelves.key(own) if code == "tag" else own, shelves.understood(other, code)
    there_key = shelves.key(there) if code == "tag" else there
    if here and there_key and here != there_key:
        return f"that one has {code} {there}, this one {own}"
    for field in _SAME:
        one, two = cell.said(field), shelves.understood(other, field)
        if one and two and one != two and "U" not in (one, two):
            return f"{field} {two} there, {one} here"
    if cell.said("date") and cell.said("date") == shelves.understood(other, "date"):
        return "both rows have the same day"
    return ""


def _when(shelves: Shelves, label: str) -> str:
    day, box = (shelves.understood(label, field) for field in ("date", "box"))
    return f"{day or 'a day not known'} in box {box or 'not known'}"


def _row(label: str) -> int:
    return split_label(label)[1]

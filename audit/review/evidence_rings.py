"""What the stock of rings and the list of lost rings say about a ring in question."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.review.excerpts import Excerpt
    from audit.review.matter import Matter

__all__ = ["ring_sheets"]

#: So many rows of a list are shown.
_MOST = 8


def ring_sheets(matter: Matter) -> Iterator[Excerpt | None]:
    """Show the strings and the losses of each ring in question, as typed and as it may have been meant."""
    rings = [
        ring
        for table in ("handlings", "ring_losses")
        if "ring" in matter.asked(table)
        for ring in (*matter.now(table, "ring"), *matter.meant(table, "ring"))
    ]
    if not rings:
        return
    shelves = matter.shelves
    if shelves.has("ring_stock", "first", "last"):
        strings = sorted({row for ring in rings for row in shelves.strings_about(ring)})
        yield matter.cut("ring_stock", strings, "Strings of rings as issued", most=_MOST)
    if "ring_losses" not in matter.by_table:
        losses = sorted({row for ring in rings for row in shelves.of_ring("ring_losses", ring)})
        yield matter.cut("ring_losses", losses, "Rings lost or destroyed", most=_MOST)

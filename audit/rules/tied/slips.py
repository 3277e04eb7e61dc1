"""Codes that may have been meant in a row, with the chance of the slip."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.rules.download import download_of
from audit.rules.marks import chance_of_ring
from audit.rules.tied.knots import UNKNOWN, Change

if TYPE_CHECKING:
    from audit.rules.tied.knots import Knot
    from audit.rules.tied.sheet_signs import SheetSigns

__all__ = ["Slips"]


@dataclass(frozen=True, slots=True)
class Slips:
    """Slips of the hand in rings and tags."""

    signs: SheetSigns

    def tags(self, knot: Knot, i: int) -> list[Change]:
        """List tags that may have been meant in a row, with the chance that what stands there came of it."""
        case, book, row = self.signs.case, self.signs.book, knot.rows[i]
        wrong = case.limit("tag_wrong")
        here = {knot.rows[k].key for k in range(len(knot.rows)) if k != i and knot.visit(k) == knot.visit(i)}
        waiting = book.read_but_not_typed(row.day)
        own = {other.key for other in book.rows_of_ring.get(row.ring, ()) if other.label != row.label}
        meant = {
            *own,
            *(key for key in book.near_known(row.tag) if book.unused(key, row.ring)),
            *(other.key for other in knot.rows),
            *(key for key in waiting if book.unused(key, row.ring)),
        } - {row.key}
        foreign = self.foreign(
            copied=self.signs.copied(row, "tag"), here=row.key in here, shared=len(book.rings_of[row.key]) > 1
        )
        download = download_of(case)
        near = download.nearest(book, row, waiting)
        in_turn = float(case.limit("read_in_turn")) if near else 0.0
        changes = []
        for key in sorted(meant):
            # Which tag of another bird was copied says nothing about the tag that was meant.
            among = (1.0 - in_turn) / max(1, len(waiting)) + (in_turn / len(near) if key in near else 0.0)
            among = 1.0 if key in own else among
            slipped = self.chance(book.printed(key), row.tag) + foreign * among
            changes.append(Change(i, "tag", key, wrong * slipped))
        changes.append(Change(i, "tag", UNKNOWN, wrong * (foreign or case.limit("elsewhere"))))
        return changes

    def rings(self, knot: Knot, i: int) -> list[Change]:
        """List rings that may have been meant in a row, as `tags` does."""
        row = knot.rows[i]
        wrong = self.signs.case.limit("ring_wrong")
        here = {knot.rows[k].ring for k in range(len(knot.rows)) if k != i and knot.visit(k) == knot.visit(i)}
        shared = any(other.ring == row.ring and other.label != row.label for other in knot.rows)
        foreign = self.foreign(copied=self.signs.copied(row, "ring"), here=row.ring in here, shared=shared)
        changes = [
            Change(
                i, "ring", ring, wrong * (chance_of_ring(self.signs.book.channel, row.ring, ring) + foreign)
            )
            for ring in sorted({other.ring for other in knot.rows} - {row.ring})
        ]
        if row.ring in here:
            changes.append(Change(i, "ring", UNKNOWN, wrong * foreign))
        return changes

    def foreign(self, *, copied: bool, here: bool, shared: bool) -> float:
        """Chance that another bird's code was written down instead."""
        if copied:
            return float(self.signs.case.limit("copied"))
        if here:
            return float(self.signs.case.limit("sibling"))
        return float(self.signs.case.limit("elsewhere")) if shared else 0.0

    def chance(self, meant: str, typed: str) -> float:
        """Chance that one slip of the hand made just this of the code that was meant."""
        return math.exp(self.signs.book.channel.log_chance(typed, meant))

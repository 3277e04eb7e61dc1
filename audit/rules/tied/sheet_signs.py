"""What the sheet shows of single codes: copied ones, remarks on tags, where each ring stands."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.rules.case import Case
    from audit.rules.ring_rows import Ringings
    from audit.rules.tag_book import TagBook, TagRow
    from audit.rules.tied.knots import Field

__all__ = ["SheetSigns"]


@dataclass(frozen=True)
class SheetSigns:
    """What the sheet shows.

    Attributes
    ----------
    case, rings, book
        What the season says.
    """

    case: Case
    rings: Ringings
    book: TagBook

    @cached_property
    def _at(self) -> Mapping[int, TagRow]:
        """All handlings by place."""
        return {row.place: row for row in (*self.book.rows, *self.book.aside.values())}

    def copied(self, row: TagRow, field: Field) -> bool:
        """Whether a code repeats that of the row above, where this is not the same bird on another day."""
        above = self._at.get(row.place - 1)
        if above is None or (above.box == row.box and above.day != row.day):
            return False
        ring, key = self.book.above[row.label]
        return key == row.key if field == "tag" else ring == row.ring

    def tag_remarked(self, row: TagRow, before: TagRow) -> bool:
        """Whether a remark about this bird speaks of the tag, since the old one was last seen."""
        words = [str(word) for word in self.case.limit("remark_words")]
        said = [
            other.remarks.casefold()
            for other in (*self._of_ring.get(row.ring, ()), row)
            if before.day < other.day <= row.day or other.label == row.label
        ]
        return any(word in remark for word in words for remark in said)

    @cached_property
    def _of_ring(self) -> Mapping[str, list[TagRow]]:
        found: dict[str, list[TagRow]] = defaultdict(list)
        for row in self._at.values():
            if row.ring:
                found[row.ring].append(row)
        return found

    @cached_property
    def places_of_ring(self) -> Mapping[str, list[int]]:
        """Places of the handlings of each ring."""
        found: dict[str, list[int]] = defaultdict(list)
        for i, ring in enumerate(self.rings.ring.tolist()):
            if ring:
                found[ring].append(i)
        return found

"""The handlings as a person sees them: rows, the row above, siblings of a visit, a bird's last visit."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from audit.rules.plain import plain_text
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from audit.season import Season

__all__ = ["Sheet"]


@dataclass(frozen=True)
class Sheet:
    """The handlings of a season as plain texts, row by row.

    Attributes
    ----------
    labels : sequence of str
        Row labels in sheet order.
    texts : mapping of str to sequence of str
        Column -> values as plain text; empty where nothing stands.
    """

    labels: Sequence[str]
    texts: Mapping[str, Sequence[str]]

    @classmethod
    def of(cls, season: Season) -> Sheet:
        """Write out the handlings of a season."""
        frame = season.frame("handlings")
        texts = {str(field): [plain_text(value) for value in frame[field]] for field in frame.columns}
        return cls([str(label) for label in frame.index], texts)

    def text(self, i: int, field: str) -> str:
        """Return a value as plain text; empty where nothing stands or the column is absent."""
        column = self.texts.get(field)
        return column[i] if column is not None else ""

    def number(self, i: int, field: str) -> float | None:
        """Return a number; None where none stands."""
        text = self.text(i, field)
        return float(text) if text else None

    def above(self, i: int) -> int | None:
        """Return the row above on the same sheet."""
        return i - 1 if i > 0 and self._sheets[i] == self._sheets[i - 1] else None

    def visit(self, i: int) -> Sequence[int]:
        """Return the rows of the same box and day, in sheet order, this one among them."""
        return self._visits.get((self.text(i, "date"), self.text(i, "box")), (i,))

    def bird(self, ring: str) -> Sequence[int]:
        """Return the rows that bear a ring, in sheet order."""
        return self._birds.get(ring, ())

    def last_visit(self, i: int) -> int | None:
        """Return the latest earlier handling of the same bird."""
        day = self.text(i, "date")
        earlier = [k for k in self.bird(self.text(i, "ring")) if "" < self.text(k, "date") < day]
        return max(earlier, key=lambda k: self.text(k, "date"), default=None)

    @cached_property
    def _sheets(self) -> list[str]:
        return [split_label(label)[0] for label in self.labels]

    @cached_property
    def _visits(self) -> dict[tuple[str, str], list[int]]:
        found: dict[tuple[str, str], list[int]] = defaultdict(list)
        for i in range(len(self.labels)):
            day, box = self.text(i, "date"), self.text(i, "box")
            # rows without a day or a box have nothing in common
            if day and box:
                found[day, box].append(i)
        return found

    @cached_property
    def _birds(self) -> dict[str, list[int]]:
        found: dict[str, list[int]] = defaultdict(list)
        for i, ring in enumerate(self.texts.get("ring", ())):
            if ring:
                found[ring].append(i)
        return found

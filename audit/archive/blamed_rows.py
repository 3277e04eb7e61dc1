"""Rows that the rules of their own season blame: that explains what other seasons hold against them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from audit.archive.clash_findings import accounting
from audit.archive.lines import witnesses_in

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.archive.lines import Line

__all__ = ["BlamedRows"]

#: Begins the names of the rules about contradictions between rows of an archive.
_ARCHIVE = "archive."
#: Begins the names of the rules for which rows of earlier seasons are witnesses.
_EARLIER = "earlier."
#: Where this is wrong, an earlier row tells nothing of the bird.
_BIRD = "ring"


@dataclass(slots=True)
class BlamedRows:
    """Rows of all seasons that were told of so far, and the cells for which they are blamed.

    A contradiction between two seasons is told of with the later row, and judged with what is known of that
    season; a slip in the earlier row was found with its own one. What an earlier season holds against a row
    counts for nothing where all earlier rows on which it rests have the slip.

    Attributes
    ----------
    fields : mapping of (str, str) to set of str
        File and row -> columns that errors and suspects of a season's rules blame.
    """

    fields: dict[tuple[str, str], set[str]] = field(default_factory=dict)

    def unexplained(self, lines: Sequence[Line]) -> list[Line]:
        """Take in the lines of one more season, and leave out what a blamed cell of a row accounts for.

        Parameters
        ----------
        lines : sequence of Line
            All lines of a season; seasons in their order.
        """
        for line in lines:
            if line["severity"] != "note" and not line["rule"].startswith(_ARCHIVE):
                self.fields.setdefault((line["file"], line["row"]), set()).add(line["field"])
        explained = {line["finding"] for line in lines if self._accounts(line)}
        return [line for line in lines if line["finding"] not in explained]

    def _accounts(self, line: Line) -> bool:
        if line["rule"].startswith(_EARLIER):
            rests_on: dict[tuple[str, str], set[str]] = {}
            for file, row, field in witnesses_in(line):
                rests_on.setdefault((file, row), {_BIRD}).add(field)
            return bool(rests_on) and not any(
                fields.isdisjoint(self.fields.get(place, ())) for place, fields in rests_on.items()
            )
        if not line["rule"].startswith(_ARCHIVE):
            return False
        blamed = self.fields.get((line["file"], line["row"]), set())
        return not accounting(line["rule"].removeprefix(_ARCHIVE)).isdisjoint(blamed)

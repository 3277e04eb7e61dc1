"""What was found in an archive, counted: by season, team, box and rule, and what to look at first."""

from __future__ import annotations

import heapq
from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from audit.archive.lines import Line

__all__ = ["First", "Tally"]

_NOTE = "note"
#: How many findings are kept to be looked at first.
_KEPT = 50


@dataclass(frozen=True, slots=True, order=True)
class First:
    """Findings of one slip, to be looked at before most others.

    Attributes
    ----------
    harm : float
        Expected harm: probability times consequence of the column, summed over the suspect cells.
    place : tuple of str
        Season, scheme, team, file, row and column of its first line, which order equals.
    line : mapping of str to str
        That line.
    cells : int
        Suspect cells.
    """

    harm: float
    place: tuple[str, ...]
    line: Mapping[str, str] = field(compare=False)
    cells: int = field(compare=False, default=1)


@dataclass(slots=True)
class Tally:
    """Counts of findings; a finding counts once, however many cells it blames.

    Attributes
    ----------
    costs : mapping of str to float
        Canonical column -> what a wrong cell costs.
    by_rule : Counter
        By season, rule and severity.
    by_team : Counter
        By season, scheme, team and severity.
    by_box : Counter
        Errors and suspects by season, scheme, team and box.
    lines : int
        Suspect cells.
    """

    costs: Mapping[str, float]
    by_rule: Counter[tuple[str, str, str]] = field(default_factory=Counter)
    by_team: Counter[tuple[str, str, str, str]] = field(default_factory=Counter)
    by_box: Counter[tuple[str, str, str, str]] = field(default_factory=Counter)
    lines: int = 0
    _first: list[First] = field(default_factory=list)

    def add(self, season: str, lines: Sequence[Line]) -> None:
        """Count the lines of a season, all of them at once."""
        self.lines += len(lines)
        seen: set[tuple[str, ...]] = set()
        boxes: set[tuple[str, ...]] = set()
        groups: dict[tuple[str, ...], list[Line]] = {}
        for line in lines:
            whose = line["scheme"], line["team"]
            finding = (*whose, line["finding"], line["rule"], line["severity"])
            if finding not in seen:
                seen.add(finding)
                self.by_rule[season, line["rule"], line["severity"]] += 1
                self.by_team[season, *whose, line["severity"]] += 1
            if line["severity"] == _NOTE:
                continue
            boxed = (*whose, line["finding"], line["box"])
            if line["box"] and boxed not in boxes:
                boxes.add(boxed)
                self.by_box[season, *whose, line["box"]] += 1
            groups.setdefault((*whose, line["group"]), []).append(line)
        for (scheme, team, _), some in groups.items():
            self._look(season, scheme, team, some)

    def _look(self, season: str, scheme: str, team: str, lines: Sequence[Line]) -> None:
        cells: dict[tuple[str, str, str], float] = {}
        for line in lines:
            cell = line["file"], line["row"], line["field"]
            harm = float(line["p_error"] or 0) * self.costs.get(line["field"], 1.0)
            cells[cell] = max(cells.get(cell, 0.0), harm)
        line = lines[0]
        place = (season, scheme, team, line["file"], line["row"].zfill(9), line["field"])
        found = First(sum(cells.values()), place, line, len(cells))
        if len(self._first) < _KEPT:
            heapq.heappush(self._first, found)
        else:
            heapq.heappushpop(self._first, found)

    @property
    def first(self) -> list[First]:
        """What to look at first: the greatest expected harm, then season and place."""
        return sorted(self._first, key=lambda one: (-one.harm, one.place))

"""Which decisions stand on which cells of a season, kept up to date as one after the other is made."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.review.decisions import text_of
from audit.review.places import place
from audit.review.standing import same_cell, standing

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterable, Mapping, Sequence

    from audit.review.decisions import DecidedCell, Decision, Verb
    from audit.review.places import Orphan
    from audit.season import Season

__all__ = ["Board"]

Place = tuple[str, str]


class Board:
    """What stands where.

    Rows are searched once for the decisions of a log; those made at the desk say themselves where they stand.

    Parameters
    ----------
    season : Season
        As typed, without any decision.
    decisions : iterable of Decision
        In the order of the log.

    Attributes
    ----------
    live : tuple of Decision
        Those that stand, in the order of the log, each with those of its cells that nothing replaced.
    edits : mapping of (label, field) to str
        Texts that take the place of what was typed.
    conflicts : tuple of Conflict
        Cells on which two people differ; none of them is changed.
    disputed : mapping of (label, field) to tuple of (Decision, str)
        Cells in conflict, with what each person wants to stand there.
    orphans : tuple of Orphan
        Decided cells that have no place in this sheet.
    """

    def __init__(self, season: Season, decisions: Iterable[Decision]) -> None:
        self._season = season
        # looked up for every line of a list after every act, and never another one
        self._typed: dict[Place, str] = {}
        self._known = {decision.identity: decision for decision in decisions}
        placed = place(season, self._known.values())
        self._where: dict[int, Place] = {id(cell): key for key, here in placed.at.items() for _, cell in here}
        self._lost: tuple[Orphan, ...] = placed.orphans
        self._work_out()

    def add(self, decision: Decision, places: Sequence[Place]) -> None:
        """Add a decision made about this very season, one place for each of its cells."""
        self._known[decision.identity] = decision
        self._where |= {id(cell): key for cell, key in zip(decision.cells, places, strict=True)}
        self._work_out()

    def _work_out(self) -> None:
        lost = {id(one.cell): (one.label, one.cell.field) for one in self._lost if one.label}

        def cell_of(cell: DecidedCell) -> Hashable:
            return self._where.get(id(cell)) or lost.get(id(cell)) or same_cell(cell)

        stands = standing(self._known.values(), cell_of)
        by_identity = {decision.identity: decision for decision in stands.live}
        self.live = tuple(by_identity[identity] for identity in self._known if identity in by_identity)
        self.conflicts = stands.conflicts
        standing_cells = {id(cell) for decision in self.live for cell in decision.cells}
        self.orphans = tuple(one for one in self._lost if id(one.cell) in standing_cells)
        disputed = {one.identity for conflict in stands.conflicts for one in conflict.decisions}
        self.disputed = {
            key: tuple((decision, text_of(decision, cell) or "") for decision, cell in one.choices)
            for one in stands.conflicts
            if (key := self._where.get(id(one.cell)))
        }
        self._on: dict[Place, list[tuple[Decision, DecidedCell]]] = {}
        self.edits: Mapping[Place, str] = {}
        edits: dict[Place, str] = {}
        for decision in self.live:
            for cell in decision.cells:
                key = self._where.get(id(cell))
                if key is None:
                    continue
                self._on.setdefault(key, []).append((decision, cell))
                text = text_of(decision, cell)
                # a formula, or blanks around a text, may stand there a little otherwise by now
                if text not in (None, cell.observed) and decision.identity not in disputed:
                    edits[key] = text
        self.edits = {key: text for key, text in edits.items() if text != self.typed(key)}

    def places(self, decision: Decision) -> tuple[Place, ...]:
        """Cells of a decision that have a place in this sheet."""
        return tuple(key for cell in decision.cells if (key := self._where.get(id(cell))) is not None)

    def typed(self, key: Place) -> str:
        """Text of a cell as typed in the file; empty where the sheet has no such column."""
        if key not in self._typed:
            label, field = key
            typed = self._season.tables[self._season.table_of(label)].typed
            self._typed[key] = str(typed.at[label, field]) if field in typed.columns else ""
        return self._typed[key]

    def text(self, key: Place) -> str:
        """Text of a cell as it stands now."""
        return self.edits[key] if key in self.edits else self.typed(key)

    def verb(self, key: Place) -> Verb | None:
        """Say what was decided about a cell: an answer goes before a question; None where nothing stands."""
        verbs = [decision.verb for decision, _ in self._on.get(key, ())]
        return next((verb for verb in verbs if verb != "ask"), verbs[0] if verbs else None)

    def on(self, keys: Iterable[Place]) -> tuple[Decision, ...]:
        """Decisions that stand on some cells, each once."""
        found = {decision.identity: decision for key in keys for decision, _ in self._on.get(key, ())}
        return tuple(found.values())

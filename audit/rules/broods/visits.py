"""The visits of a season with their young, and the cells that were blamed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.rules.box_visits import BoxVisit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.findings import Finding
    from audit.rules.box_visits import BoxVisits, Key, VisitCounts
    from audit.rules.case import At, Case

    Ints = NDArray[np.int64]

__all__ = ["BroodVisits"]


class BroodVisits:
    """The visits of a season with their young; a cell is blamed once."""

    def __init__(self, case: Case, sheet: BoxVisits, counts: VisitCounts, handled: Ints) -> None:
        self.case = case
        self.sheet = sheet
        self.counts = counts
        self.handled = handled
        self.blamed: set[tuple[str, str]] = set()
        order = np.argsort(sheet.visit, kind="stable")
        self.rows_of = np.split(order, np.flatnonzero(np.diff(sheet.visit[order])) + 1) if len(order) else []
        self.keys = [(sheet.dates[rows[0]], str(sheet.boxes[rows[0]])) for rows in self.rows_of]
        self.with_birds: set[Key] = set(self.keys)

    def visit(self, number: int) -> BoxVisit:
        """Return one visit by its number."""
        key = self.keys[number]
        alive, label = self.counts.alive.get(key, (float("nan"), ""))
        return BoxVisit(key, self.rows_of[number], int(self.handled[number]), alive, label)

    def blame(
        self, outcome: str, suspects: list[At], message: str, witnesses: list[tuple[str, str]] | None = None
    ) -> Finding:
        """Blame cells, and remember which."""
        self.blamed.update((at.label, at.field) for at in suspects)
        return self.case.blame(outcome, suspects, message, witnesses or ())

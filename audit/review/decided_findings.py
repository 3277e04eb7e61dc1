"""Findings made of decisions: one that stands, looked at again, and a cell on which two people differ."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.findings import Finding, Suspect

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.review.decisions import Decision
    from audit.season import Season

    Place = tuple[str, str]

__all__ = ["NAMED", "conflict", "looked_back", "said_of"]

#: Cells named one by one when many are changed at once.
NAMED = 4


def looked_back(season: Season, decision: Decision, places: Sequence[Place]) -> Finding:
    """Make a note of a decision."""
    first = decision.cells[0]
    change = f": {first.instead or 'nothing'} instead of {first.observed or 'nothing'}"
    what = f"{said_of(decision)}{'' if first.instead is None else change}"
    why = f" Reason: {decision.reason}." if decision.reason else ""
    message = f"{decision.who} on {decision.at[:10]}: {what}.{why} It was asked: {decision.asked}"
    suspects = tuple(Suspect(season.cell(*place), "", 0.0) for place in places)
    return Finding("decisions.made", "note", suspects, message, (), decision.identity, decision.identity)


def conflict(season: Season, place: Place, choices: Sequence[tuple[Decision, str]]) -> Finding:
    """Make a finding of a cell on which two people differ: none of their texts goes before the others."""
    cell = season.cell(*place)
    said = " and ".join(f"{decision.who} says {text or 'nothing'}" for decision, text in choices)
    texts = [text for text in dict.fromkeys(text for _, text in choices) if text != cell.observed]
    others = tuple((text, 1 / (len(texts) + 1)) for text in texts)
    message = f"Two people differ about this cell: {said}. Look it up and decide which stands."
    identity = "-".join(sorted(decision.identity for decision, _ in choices))
    suspect = Suspect(cell, "", 1.0, None, others)
    return Finding("decisions.conflict", "error", (suspect,), message, identity=identity, group=identity)


def said_of(decision: Decision) -> str:
    """Say in a few words what a decision was."""
    cells = ", ".join(f"{cell.sheet} row {cell.row} {cell.field}" for cell in decision.cells[:NAMED])
    return f"{decision.verb} {cells}".strip()

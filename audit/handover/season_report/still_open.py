"""Findings of the decided season that nobody has settled."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.handover.gate.said import said_in

if TYPE_CHECKING:
    from audit.findings import Finding
    from audit.handover.clean.decided_season import DecidedSeason

__all__ = ["still_open"]


def still_open(decided: DecidedSeason) -> list[Finding]:
    """Errors and suspects of the decided season that no decision answers and that wait for none.

    What answers a finding is the same here as at the gate.
    """
    said = said_in(decided.replayed)
    return [
        finding
        for finding in decided.report.above_notes
        if not any(
            said.stand((suspect.cell.label, suspect.cell.field), finding.rule, finding.identity)
            in ("answered", "waiting")
            for suspect in finding.suspects
        )
    ]

"""Findings of the decided season that nobody has decided on."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from audit.findings import Finding
    from audit.handover.decided_season import DecidedSeason

__all__ = ["still_open"]


def still_open(decided: DecidedSeason) -> list[Finding]:
    """Errors and suspects of the decided season on whose cells nobody decided or asked."""
    looked_at = {
        (one.label, one.field)
        for some in (decided.replayed.kept, decided.replayed.asked, decided.replayed.held)
        for one in some
    }
    looked_at |= {(one.label, one.cell.field) for one in decided.replayed.conflicts}
    return [
        finding
        for finding in decided.report.above_notes
        if not any((suspect.cell.label, suspect.cell.field) in looked_at for suspect in finding.suspects)
    ]

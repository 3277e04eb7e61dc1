"""Cells that do not go out yet: asked about, in conflict, or probably wrong with nobody having decided."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from audit.handover.clean.decided_season import DecidedSeason

__all__ = ["open_cells"]


def open_cells(decided: DecidedSeason) -> frozenset[tuple[str, str]]:
    """Return row label and column of each cell whose value is not settled.

    These are cells that are still asked about, on which two people differ, which wait for such a conflict,
    and those that the audit of the clean season takes for wrong at least as surely as what shuts the gate
    (``gate.shut_from``) while nobody has decided on them.
    """
    replayed = decided.replayed
    settled = {(one.label, one.field) for one in (*replayed.applied, *replayed.kept)}
    shut_from = float(decided.declared.settings["gate.shut_from"].value)
    doubtful = {
        (suspect.cell.label, suspect.cell.field)
        for finding in decided.report.findings
        if finding.severity != "note"
        for suspect in finding.suspects
        if suspect.p_error >= shut_from
    }
    return frozenset(
        {(one.label, one.field) for one in (*replayed.asked, *replayed.held)}
        | {(one.label, one.cell.field) for one in replayed.conflicts if one.label}
        | (doubtful - settled)
    )

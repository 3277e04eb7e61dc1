"""What findings would write into the cells of a column."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from audit.findings import Report

__all__ = ["meant_instead"]


def meant_instead(report: Report, field: str, least: float) -> dict[str, str]:
    """Cells of one column that the findings would mend with at least some probability, by row label."""
    best: dict[str, tuple[float, str]] = {}
    for finding in report.findings:
        for suspect in finding.suspects:
            p = suspect.p_fix or 0.0
            if suspect.cell.field == field and suspect.suggested and p >= least:
                best[suspect.cell.label] = max(
                    best.get(suspect.cell.label, (0.0, "")), (p, suspect.suggested)
                )
    return {label: text for label, (_, text) in best.items()}

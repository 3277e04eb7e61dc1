"""The demo season with every planted slip set right, as a log of decisions: for tests of what goes out."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import TYPE_CHECKING

from audit.review.decisions import Decision
from audit.review.log import DecisionLog
from audit.review.places import decided_cell

if TYPE_CHECKING:
    from audit.findings import Report
    from audit.season import Season

KEY = Path(__file__).parent / "demo" / "planted-slips.csv"
AT = "2026-09-01T10:00:00+02:00"


def true_texts() -> dict[tuple[str, str], str]:
    """Row label and column of each planted slip -> what should stand there."""
    with KEY.open(encoding="utf-8", newline="") as stream:
        lines = list(csv.DictReader(stream))
    return {(f"{line['sheet']}!{line['row']}", line["field"]): line["true"] for line in lines}


def amendments(season: Season, who: str = "AB") -> list[Decision]:
    """One amendment for each planted slip."""
    return [
        Decision(
            identity=f"amend{number}",
            at=AT,
            who=who,
            verb="amend",
            cells=(decided_cell(season, label, field, text),),
            reason="as in the field notebook",
        )
        for number, ((label, field), text) in enumerate(true_texts().items(), 1)
    ]


def keeps(season: Season, report: Report, who: str = "IP") -> list[Decision]:
    """Keep what a report still asks about, finding by finding."""
    return [
        Decision(
            identity=f"keep{number}",
            at=AT,
            who=who,
            verb="keep",
            cells=tuple(
                decided_cell(season, suspect.cell.label, suspect.cell.field, None)
                for suspect in finding.suspects
            ),
            reason="seen again at the box",
            findings=(finding.identity,),
            rules=(finding.rule,),
        )
        for number, finding in enumerate(report.above_notes, 1)
    ]


def write_log(path: Path, decisions: list[Decision]) -> Path:
    log = DecisionLog.open(path)
    for decision in decisions:
        log.append(decision)
    return path

"""Rules give evidence; here each neighbourhood of doubtful cells is weighed as a whole."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from audit.explain.certainty import with_certainty
from audit.explain.measures import weigh, worth_a_look
from audit.explain.surroundings import MEASURES, surroundings_of
from audit.explain.unread import mend_unread
from audit.explain.verdict import findings_of
from audit.findings import NotRun
from audit.rules.round import FAULT

if TYPE_CHECKING:
    from audit.declarations import Declarations
    from audit.findings import Finding
    from audit.rules.round import Gathered
    from audit.season import Season

__all__ = ["explain"]

#: Rules whose evidence about measures is weighed together.
_WEIGHED = ("tare", "growth")


def explain(season: Season, declared: Declarations, gathered: Gathered) -> Gathered:
    """Weigh the evidence of all rules together, and say how sure each explanation is.

    Parameters
    ----------
    gathered : Gathered
        What the rules found, each on its own.

    Returns
    -------
    Gathered
        The same with the findings about gross, bag, net and wing put in the place of those of the single
        rules; the others keep their cells and suggestions.
    """
    not_run = gathered.not_run
    try:
        weighed = mend_unread(season, declared, _weigh_measures(season, declared, gathered))
    except Exception as fault:  # noqa: BLE001 - what the rules found must not be lost with it
        weighed = gathered.findings
        not_run = (
            *not_run,
            NotRun("explain", f"{FAULT} ({type(fault).__name__}: {fault}). Please report it."),
        )
    found = tuple(with_certainty(finding) for finding in weighed)
    return replace(gathered, findings=found, not_run=not_run)


def _weigh_measures(season: Season, declared: Declarations, gathered: Gathered) -> tuple[Finding, ...]:
    """Weigh gross, bag, net and wing of each doubtful handling as a whole."""
    if not set(_WEIGHED) <= set(gathered.rules_run) or not any(
        season.has("handlings", field) for field in MEASURES
    ):
        return gathered.findings
    doubted = frozenset(
        (suspect.cell.label, suspect.cell.field)
        for finding in gathered.findings
        if finding.severity != "note"
        for suspect in finding.suspects
    )
    around = surroundings_of(season, declared, doubted)
    position = {label: i for i, label in enumerate(around.labels)}
    drafts: dict[int, list[Finding]] = {}
    settled: set[tuple[str, str]] = set()
    kept: list[Finding] = []
    for finding in gathered.findings:
        rows = {position[s.cell.label] for s in finding.suspects if s.cell.label in position}
        of_measures = any(s.cell.field in MEASURES for s in finding.suspects)
        if finding.severity != "note" and of_measures and _rule(finding) in _WEIGHED and len(rows) == 1:
            drafts.setdefault(rows.pop(), []).append(finding)
        else:
            kept.append(finding)
            if finding.severity != "note":
                settled.update((s.cell.label, s.cell.field) for s in finding.suspects)
    look = worth_a_look(around)
    look[list(drafts)] = True
    explained: list[Finding] = []
    for row in np.flatnonzero(look):
        found = findings_of(around, int(row), weigh(around, int(row)))
        if found is None:
            kept += drafts.get(int(row), [])
            continue
        explained += [
            one for one in found if not any((s.cell.label, s.cell.field) in settled for s in one.suspects)
        ]
    return (*kept, *explained)


def _rule(finding: Finding) -> str:
    return finding.rule.partition(".")[0]

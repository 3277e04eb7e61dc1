"""Rules give evidence; here each neighbourhood of doubtful cells is weighed as a whole."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from audit.explain.certainty import with_certainty
from audit.explain.measures import weigh_together, worth_a_look
from audit.explain.surroundings import MEASURES, surroundings_of
from audit.explain.unread import mend_unread
from audit.explain.verdict import findings_of
from audit.findings import NotRun
from audit.rules.round import FAULT, Stopped, blamed_by
from audit.rules.weighings import MASSES

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Mapping, Sequence

    from audit.declarations import Declarations
    from audit.explain.account import Posterior
    from audit.findings import Finding
    from audit.rules.layouts import Layouts
    from audit.rules.round import Gathered
    from audit.season import Season

__all__ = ["Explained", "Verdict", "explain"]

#: Rules whose evidence about measures is weighed together.
_WEIGHED = ("tare", "growth")
#: So many rows are weighed together: more take more memory, and no less time.
_TOGETHER = 24


@dataclass(frozen=True, slots=True)
class Verdict:
    """What is said about the measures of one handling.

    Attributes
    ----------
    findings : tuple of Finding or None
        Empty where nothing is wrong, None where the findings of the rules stand.
    settled : bool
        Whether another account is out of the question.
    """

    findings: tuple[Finding, ...] | None
    settled: bool


@dataclass(frozen=True, slots=True)
class Explained:
    """What was found once all evidence is weighed, and what was weighed on the way.

    Attributes
    ----------
    gathered : Gathered
        Findings as they go into the report.
    verdicts : mapping of str to Verdict
        What was said about the measures of each handling that was weighed, by row label, the one weighed
        longest ago first.
    """

    gathered: Gathered
    verdicts: Mapping[str, Verdict] = field(default_factory=dict)


def explain(
    season: Season,
    declared: Declarations,
    gathered: Gathered,
    before: Explained | None = None,
    touched: Collection[str] = (),
    layouts: Layouts | None = None,
    *,
    tell: Callable[[], None] | None = None,
    edits: int = 1,
) -> Explained:
    """Weigh the evidence, and keep what was weighed.

    Parameters
    ----------
    before : Explained, optional
        What was said of the same season before some cell was edited: it stands for every row that is not
        touched, but for some that are not settled.
    touched : collection of str
        Labels of the rows to weigh again.
    layouts : Layouts, optional
        What the rules have laid out.
    tell : callable, optional
        Called now and then on the way; it may raise `audit.rules.round.Stopped`.
    edits : int
        Rows that were edited: the more, the more that are not settled are weighed again.
    """
    not_run = gathered.not_run
    try:
        explained = _weigh_measures(season, declared, gathered, before, touched, layouts, tell, edits)
        mended = mend_unread(season, declared, explained.gathered.findings, layouts)
    except Stopped:
        raise
    except Exception as fault:  # noqa: BLE001 - what the rules found must not be lost with it
        explained, mended = Explained(gathered), gathered.findings
        not_run = (
            *not_run,
            NotRun("explain", f"{FAULT} ({type(fault).__name__}: {fault}). Please report it."),
        )
    found = tuple(with_certainty(finding) for finding in mended)
    return replace(explained, gathered=replace(gathered, findings=found, not_run=not_run))


def _weigh_measures(
    season: Season,
    declared: Declarations,
    gathered: Gathered,
    before: Explained | None,
    touched: Collection[str],
    layouts: Layouts | None,
    tell: Callable[[], None] | None,
    edits: int,
) -> Explained:
    """Weigh gross, bag, net and wing of each doubtful handling as a whole."""
    if not set(_WEIGHED) <= set(gathered.rules_run) or not any(
        season.has("handlings", name) for name in MEASURES
    ):
        return Explained(gathered)
    drafts, kept, settled = _drafts(season, gathered)
    known = {} if before is None else {k: v for k, v in before.verdicts.items() if k not in touched}
    if touched:
        unsettled = [label for label, verdict in known.items() if not verdict.settled]
        most = edits * int(declared.settings["explain.recheck.again_most"].value)
        again = set(unsettled[:most])
        known = {k: v for k, v in known.items() if k not in again}
        touched = {*touched, *again}
    verdicts = dict(known)
    if before is None or touched or drafts.keys() - known.keys():
        asked = None if before is None else touched
        verdicts |= _verdicts(season, declared, gathered, drafts.keys() - known.keys(), asked, layouts, tell)
    explained: list[Finding] = []
    labels = season.frame("handlings").index
    for label in labels[labels.isin(list(verdicts))]:
        found = verdicts[label].findings
        told, said = (kept, drafts.get(label, [])) if found is None else (explained, found)
        told += [
            one for one in said if not any((s.cell.label, s.cell.field) in settled for s in one.suspects)
        ]
    blamed = {(s.cell.label, s.cell.field) for one in explained for s in one.suspects}
    kept = [one for one in kept if not _said_better(one, blamed)]
    return Explained(replace(gathered, findings=(*kept, *explained)), verdicts)


def _said_better(finding: Finding, blamed: Collection[tuple[str, str]]) -> bool:
    """Whether a note about a measure stands beside an explanation that blames the same cells."""
    return (
        finding.severity == "note"
        and _rule(finding) in _WEIGHED
        and all((s.cell.label, s.cell.field) in blamed for s in finding.suspects)
    )


def _drafts(
    season: Season, gathered: Gathered
) -> tuple[dict[str, list[Finding]], list[Finding], set[tuple[str, str]]]:
    """Part the findings: those to be weighed, by row; the others; and the cells that those have settled."""
    labels = season.frame("handlings").index
    drafts: dict[str, list[Finding]] = defaultdict(list)
    settled: set[tuple[str, str]] = set()
    kept: list[Finding] = []
    for finding in gathered.findings:
        rows = {s.cell.label for s in finding.suspects if s.cell.label in labels}
        of_measures = any(s.cell.field in MEASURES for s in finding.suspects)
        if finding.severity != "note" and of_measures and _rule(finding) in _WEIGHED and len(rows) == 1:
            drafts[rows.pop()].append(finding)
        else:
            kept.append(finding)
            if finding.severity != "note":
                settled.update((s.cell.label, s.cell.field) for s in finding.suspects)
                if len(rows) > 1 and any(s.cell.field in MASSES for s in finding.suspects):
                    # one slip in many rows is why their sums do not come out
                    settled.update((label, name) for label in rows for name in MASSES)
    return drafts, kept, settled


def _verdicts(
    season: Season,
    declared: Declarations,
    gathered: Gathered,
    drafted: Collection[str],
    asked: Collection[str] | None,
    layouts: Layouts | None,
    tell: Callable[[], None] | None,
) -> dict[str, Verdict]:
    """Weigh the rows that are drafted or worth a look, of all rows or of those that are asked about."""
    if tell is not None:
        tell()
    around = surroundings_of(season, declared, blamed_by(gathered.findings), layouts)
    look = worth_a_look(around)
    if asked is not None:
        look &= np.array([label in asked for label in around.labels], dtype=bool)
    look |= np.array([label in drafted for label in around.labels], dtype=bool)
    verdicts: dict[str, Verdict] = {}
    settled_from = float(declared.settings["explain.recheck.settled_from"].value)
    rows = np.flatnonzero(look).tolist()
    for start in range(0, len(rows), _TOGETHER):
        some = rows[start : start + _TOGETHER]
        if tell is not None:
            tell()
        for row, posterior in zip(some, weigh_together(around, some), strict=True):
            found = findings_of(around, row, posterior)
            verdicts[around.labels[row]] = Verdict(
                None if found is None else tuple(found), _surest(posterior, found or ()) >= settled_from
            )
    return verdicts


def _surest(posterior: Posterior, findings: Sequence[Finding]) -> float:
    """How sure it is that the likeliest account, and each value offered, stays as it is."""
    likeliest = max([posterior.nothing, *(share for _, share in posterior.by_cells()[:1])])
    offered = [s.p_fix for finding in findings for s in finding.suspects if s.p_fix is not None]
    return min([likeliest, *(max(chance, 1 - chance) for chance in offered)])


def _rule(finding: Finding) -> str:
    return finding.rule.partition(".")[0]

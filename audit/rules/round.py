"""One round of all rules over a season."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.findings import Finding, NotRun, Report, identify, join_groups, sort_findings
from audit.rules.case import Case

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.declarations import Declarations
    from audit.rules.rule import Rule
    from audit.season import Season

__all__ = ["FAULT", "Gathered", "gather", "make_round", "report_of"]

#: How the reason begins when a rule failed by a fault of the program; no test season may show it.
FAULT = "the program failed here"


@dataclass(frozen=True, slots=True)
class Gathered:
    """What the rules found, each on its own.

    Attributes
    ----------
    findings : tuple of Finding
        In the order in which they were found.
    not_run : tuple of NotRun
        Rules that could not run, and why.
    rules_run : tuple of str
        Slugs of the rules that ran.
    """

    findings: tuple[Finding, ...]
    not_run: tuple[NotRun, ...]
    rules_run: tuple[str, ...]


def gather(season: Season, declared: Declarations, rules: Sequence[Rule]) -> Gathered:
    """Ask every rule, in order.

    Cells blamed by one rule are known to be in doubt to the rules after it, so that one slip is not blamed
    on its neighbours. A rule that fails is reported as not run, with the fault as the reason.
    """
    findings: list[Finding] = []
    not_run: list[NotRun] = []
    ran: list[str] = []
    doubted: set[tuple[str, str]] = set()
    for rule in rules:
        reason = rule.missing(season)
        if reason:
            not_run.append(NotRun(rule.slug, reason))
            continue
        case = Case(season, declared, declared.rules[rule.slug], frozenset(doubted))
        try:
            answers = list(rule.check(case))
        except Exception as fault:  # noqa: BLE001 - one rule's fault must not take the other findings with it
            not_run.append(NotRun(rule.slug, f"{FAULT} ({type(fault).__name__}: {fault}). Please report it."))
            continue
        ran.append(rule.slug)
        for answer in answers:
            if isinstance(answer, NotRun):
                not_run.append(answer)
                continue
            findings.append(answer)
            if answer.severity != "note":
                doubted.update((s.cell.label, s.cell.field) for s in answer.suspects)
    return Gathered(tuple(findings), tuple(not_run), tuple(ran))


def report_of(season: Season, declared: Declarations, gathered: Gathered) -> Report:
    """Put what was found into a report: sorted, named and grouped."""
    return Report(
        season=season.name,
        findings=join_groups(identify(sort_findings(gathered.findings))),
        not_run=gathered.not_run,
        notices=season.notices,
        rows_read=tuple((name, len(table.frame)) for name, table in season.tables.items()),
        rules_run=gathered.rules_run,
        sources=tuple(str(source) for source in declared.sources),
    )


def make_round(season: Season, declared: Declarations, rules: Sequence[Rule]) -> Report:
    """Ask every rule and report each on its own, without weighing them together."""
    return report_of(season, declared, gather(season, declared, rules))

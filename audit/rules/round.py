"""One round of all rules over a season."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from audit.findings import Finding, NotRun, Report
from audit.named_findings import identify, join_groups, sort_findings
from audit.rules.case import Case
from audit.rules.layouts import Layouts

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from audit.declarations import Declarations
    from audit.rules.kept.kept_answers import KeptAnswers
    from audit.rules.rule import Rule
    from audit.season import Season

    #: What is asked now, how many questions are answered, of how many.
    Progress = Callable[[str, int, int], None]

__all__ = [
    "FAULT",
    "Answered",
    "Gathered",
    "Stopped",
    "ask",
    "ask_all",
    "blamed_by",
    "gathered_of",
    "report_of",
    "tell",
]

#: How the reason begins when a rule failed by a fault of the program; no test season may show it.
FAULT = "the program failed here"


class Stopped(Exception):  # noqa: N818 - no error: somebody has no use for the answer any more
    """Raised by who is told of progress, to end an audit between two questions."""


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


@dataclass(frozen=True, slots=True)
class Answered:
    """What one rule answered.

    Attributes
    ----------
    findings : tuple of Finding
        In the order in which they were found.
    not_run : tuple of NotRun
        The whole rule or parts of it.
    ran : bool
        Whether the rule ran.
    doubted : frozenset of (label, field)
        Cells that are in doubt after this rule: those before it, and those that it blames.
    """

    rule: str
    findings: tuple[Finding, ...]
    not_run: tuple[NotRun, ...]
    ran: bool
    doubted: frozenset[tuple[str, str]]


def ask(
    rule: Rule,
    season: Season,
    declared: Declarations,
    doubted: frozenset[tuple[str, str]],
    layouts: Layouts | None = None,
) -> Answered:
    """Ask one rule.

    A rule that fails is reported as not run, with the fault as the reason.

    Parameters
    ----------
    doubted : frozenset of (label, field)
        Cells blamed by the rules before it.
    layouts : Layouts, optional
        What the rules before it have laid out.
    """
    reason = rule.missing(season)
    if reason:
        return Answered(rule.slug, (), (NotRun(rule.slug, reason),), ran=False, doubted=doubted)
    case = Case(
        season, declared, declared.rules[rule.slug], doubted, Layouts() if layouts is None else layouts
    )
    try:
        answers = list(rule.check(case))
    except Exception as fault:  # noqa: BLE001 - one rule's fault must not take the other findings with it
        said = f"{FAULT} ({type(fault).__name__}: {fault}). Please report it."
        return Answered(rule.slug, (), (NotRun(rule.slug, said),), ran=False, doubted=doubted)
    findings = tuple(answer for answer in answers if isinstance(answer, Finding))
    blamed = blamed_by(findings)
    return Answered(
        rule.slug,
        findings,
        tuple(answer for answer in answers if isinstance(answer, NotRun)),
        ran=True,
        doubted=doubted | blamed if blamed else doubted,
    )


def blamed_by(findings: Iterable[Finding]) -> frozenset[tuple[str, str]]:
    """Name the cells that findings above a note blame, as (label, field)."""
    return frozenset(
        (suspect.cell.label, suspect.cell.field)
        for finding in findings
        if finding.severity != "note"
        for suspect in finding.suspects
    )


def ask_all(
    season: Season,
    declared: Declarations,
    rules: Sequence[Rule],
    layouts: Layouts,
    progress: Progress | None = None,
    kept: KeptAnswers | None = None,
) -> tuple[Answered, ...]:
    """Ask every rule, in order, and keep their answers apart.

    Cells blamed by one rule are known to be in doubt to the rules after it, so that one slip is not blamed
    on its neighbours.

    Parameters
    ----------
    progress : callable, optional
        Is told before each question what is asked, how many are answered, and of how many: of one more than
        there are rules, since what they found is weighed after that. It may raise `Stopped`.
    kept : KeptAnswers, optional
        Answers of an earlier audit, taken over where they still hold.
    """
    answers: list[Answered] = []
    for rule in rules:
        tell(progress, declared.rules[rule.slug].question, len(answers), len(rules) + 1)
        doubted = answers[-1].doubted if answers else frozenset()
        asked = partial(ask, rule, season, declared, doubted, layouts)
        answers.append(asked() if kept is None else kept.answer(rule, doubted, asked))
    return tuple(answers)


def tell(progress: Progress | None, asked: str, done: int, number: int) -> None:
    """Tell who wants to know how far an audit is."""
    if progress is not None:
        progress(asked, done, number)


def gathered_of(answers: Sequence[Answered]) -> Gathered:
    """Put the answers of all rules together, in their order."""
    return Gathered(
        tuple(finding for answer in answers for finding in answer.findings),
        tuple(part for answer in answers for part in answer.not_run),
        tuple(answer.rule for answer in answers if answer.ran),
    )


def report_of(season: Season, declared: Declarations, gathered: Gathered) -> Report:
    """Put what was found into a report: sorted, named and grouped."""
    return Report(
        season=season.name,
        findings=join_groups(identify(sort_findings(_without_faint(gathered.findings)))),
        not_run=gathered.not_run,
        notices=season.notices,
        rows_read=tuple((name, len(table.frame)) for name, table in season.tables.items()),
        rules_run=gathered.rules_run,
        sources=tuple(str(source) for source in declared.sources),
    )


#: It says to look again, though the value may be right: nothing beside a finding that says what is wrong.
_FAINT = "growth.unusual"


def _without_faint(findings: Sequence[Finding]) -> list[Finding]:
    """Leave out a note on a cell that an error or suspect of another rule blames already."""
    blamed = blamed_by(findings)
    return [
        one
        for one in findings
        if one.rule != _FAINT
        or not all((suspect.cell.label, suspect.cell.field) in blamed for suspect in one.suspects)
    ]

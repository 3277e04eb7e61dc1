"""A season that was checked, kept so that after edited cells only what depends on them is asked again."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

from audit.explain.explaining import Explained, explain
from audit.explain.kept_verdicts import KeptVerdicts
from audit.explain.neighbourhood import neighbourhood
from audit.intake.amending import amend_all
from audit.intake.changed_cells import changed_cells
from audit.rules.layouts import Layouts
from audit.rules.round import Answered, Stopped, ask, ask_all, gathered_of, report_of, tell

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Sequence

    from audit.declarations import Declarations
    from audit.findings import Finding, Report
    from audit.intake.amending import Edit
    from audit.rules.kept.kept_answers import KeptAnswers
    from audit.rules.round import Progress
    from audit.rules.rule import Rule
    from audit.season import Season

__all__ = ["Checked", "Stopped", "check_closely", "recheck", "recheck_all", "teller"]

#: Rules whose columns the weighing of measures heeds, too.
_WEIGHED = ("tare", "growth")

Columns = frozenset[tuple[str, str]]
Cells = frozenset[tuple[str, str]]


@dataclass(frozen=True, slots=True)
class Checked:
    """A season, what each rule answered, how that was explained, and the report.

    Attributes
    ----------
    answers : tuple of Answered
        One for each rule, in order, with the cells in doubt after it.
    layouts : Layouts
        What the rules laid out of the season.
    """

    season: Season
    declared: Declarations
    rules: tuple[Rule, ...]
    answers: tuple[Answered, ...]
    explained: Explained
    report: Report
    layouts: Layouts


def check_closely(
    season: Season,
    declared: Declarations,
    rules: Sequence[Rule],
    progress: Progress | None = None,
    kept: KeptAnswers | None = None,
    layouts: Layouts | None = None,
) -> Checked:
    """Audit a season, and keep what `recheck` needs.

    Parameters
    ----------
    progress : callable, optional
        As in `recheck_all`.
    kept : KeptAnswers, optional
        Answers of an earlier audit by the same rules and declarations, of this season or of one like it:
        those that would be given again are taken over, so that the report is that of an audit without them.
    layouts : Layouts, optional
        What was laid out of this season before.
    """
    layouts = Layouts() if layouts is None else layouts
    answers = ask_all(season, declared, rules, layouts, progress, kept)
    gathered = gathered_of(answers)
    verdicts = None if kept is None else KeptVerdicts(kept, gathered, _weighers(rules))
    before = None if verdicts is None else verdicts.before()
    explained = explain(season, declared, gathered, before, layouts=layouts, tell=teller(rules, progress))
    if verdicts is not None and explained.gathered.not_run == gathered.not_run:
        verdicts.keep(explained)
    report = report_of(season, declared, explained.gathered)
    return Checked(season, declared, tuple(rules), answers, explained, report, layouts)


def recheck(checked: Checked, label: str, field: str, typed: str) -> Checked:
    """Audit a season again in which one cell holds another text: `recheck_all` of one edit."""
    return recheck_all(checked, [(label, field, typed)])


def recheck_all(checked: Checked, edits: Sequence[Edit], progress: Progress | None = None) -> Checked:
    """Audit a season again in which some cells hold other texts; each rule is asked at most once.

    A rule keeps its answers where the cells stand in no column that it heeds and where it sees the same cells
    in doubt; all others are asked again about the whole season, in order, so that their findings are those of
    a whole check. Measures are weighed again in rows of the same day, box, bird or tag as an edited row,
    beside it on the sheet, or of which a rule says something else than before, and in the like rows around
    those; of all others in some whose explanation is not settled, those weighed longest ago first. For the
    rest what was weighed before is kept, and with it what the season as a whole had taught until then: its
    rate of slips, its bags, how its birds grow. One cell moves these a little; a whole check takes it in, and
    so does an audit after edits in more than one row of a hundred.

    Parameters
    ----------
    checked : Checked
        Not changed.
    edits : sequence of (label, field, typed)
        As in `audit.intake.amending.amend_all`.
    progress : callable, optional
        Is told what is asked now, how many questions are answered, and of how many. Where it raises
        `Stopped`, the audit ends, and nothing has changed.

    Raises
    ------
    audit.refusal.SeasonRefusal
        The season has no such row, or its sheet no such column.
    """
    season = amend_all(checked.season, checked.declared, edits)
    edited, rows = changed_cells(checked.season, season, edits)
    if not rows:
        return checked
    layouts = checked.layouts.without(edited)
    answers = _ask_again(checked, season, edited, rows, layouts, progress)
    explained = _explain_again(checked, season, edited, rows, answers, layouts, progress)
    report = report_of(season, checked.declared, explained.gathered)
    return replace(
        checked, season=season, answers=answers, explained=explained, report=report, layouts=layouts
    )


def _weighers(rules: Sequence[Rule]) -> list[Rule]:
    return [rule for rule in rules if rule.slug in _WEIGHED]


def teller(rules: Sequence[Rule], progress: Progress | None) -> Callable[[], None]:
    """Say that all rules are asked, and that what they found is weighed."""
    return partial(tell, progress, "Which slip accounts for the measures?", len(rules), len(rules) + 1)


def _ask_again(
    checked: Checked,
    season: Season,
    edited: Columns,
    rows: Collection[str],
    layouts: Layouts,
    progress: Progress | None,
) -> tuple[Answered, ...]:
    answers: list[Answered] = []
    was: Cells = frozenset()
    now: Cells = frozenset()
    for rule, before in zip(checked.rules, checked.answers, strict=True):
        tell(progress, checked.declared.rules[rule.slug].question, len(answers), len(checked.rules) + 1)
        differing = _columns_of(season, was ^ now)
        if rule.minds(edited | differing):
            answer = ask(rule, season, checked.declared, now, layouts)
        else:
            answer = replace(
                before,
                findings=tuple(_renewed(finding, season, rows) for finding in before.findings),
                doubted=now | (before.doubted - was),
            )
        answers.append(answer)
        was, now = before.doubted, answer.doubted
    return tuple(answers)


def _columns_of(season: Season, cells: Cells) -> Columns:
    """Columns of cells, by table."""
    return frozenset((season.table_of(label), field) for label, field in cells)


def _renewed(finding: Finding, season: Season, rows: Collection[str]) -> Finding:
    """Show texts and marks of edited rows as they are now."""
    cells = [*(suspect.cell for suspect in finding.suspects), *finding.witnesses]
    if not any(cell.label in rows for cell in cells):
        return finding
    return replace(
        finding,
        suspects=tuple(
            replace(suspect, cell=season.cell(suspect.cell.label, suspect.cell.field))
            for suspect in finding.suspects
        ),
        witnesses=tuple(season.cell(cell.label, cell.field) for cell in finding.witnesses),
    )


def _explain_again(
    checked: Checked,
    season: Season,
    edited: Columns,
    rows: Collection[str],
    answers: Sequence[Answered],
    layouts: Layouts,
    progress: Progress | None,
) -> Explained:
    before = checked.explained
    verdicts = {
        label: replace(
            verdict,
            findings=verdict.findings
            and tuple(_renewed(finding, season, rows) for finding in verdict.findings),
        )
        for label, verdict in before.verdicts.items()
    }
    renewed = replace(before, verdicts=verdicts)
    weighers = _weighers(checked.rules)
    told_of = {
        label
        for label, field in _blamed_otherwise(checked.answers, answers)
        if any(rule.minds({(season.table_of(label), field)}) for rule in weighers)
    }
    if any(rule.minds(edited) for rule in weighers):
        told_of.update(rows)
    touched = neighbourhood((checked.season, season), told_of) if told_of else frozenset()
    anew_from = float(checked.declared.settings["explain.recheck.anew_from"].value)
    many = len(rows) > anew_from * sum(len(table.frame) for table in season.tables.values())
    return explain(
        season,
        checked.declared,
        gathered_of(answers),
        None if many else renewed,
        touched,
        layouts,
        tell=teller(checked.rules, progress),
        edits=len(rows),
    )


def _blamed_otherwise(before: Sequence[Answered], after: Sequence[Answered]) -> Cells:
    """Cells of findings that were not made before, or are not made now."""
    was, now = ({_evidence(one) for answer in some for one in answer.findings} for some in (before, after))
    return frozenset().union(*(cells for _, _, cells in was ^ now))


def _evidence(finding: Finding) -> tuple[str, bool, Cells]:
    cells = frozenset((suspect.cell.label, suspect.cell.field) for suspect in finding.suspects)
    return finding.rule, finding.severity != "note", cells

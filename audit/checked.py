"""A season that was checked, kept so that after one edited cell only what depends on it is asked again."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from audit.explain.explaining import Explained, explain_closely
from audit.explain.neighbourhood import neighbourhood
from audit.intake.amending import amend
from audit.rules.layouts import Layouts
from audit.rules.round import Answered, ask, ask_all, gathered_of, report_of

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from audit.declarations import Declarations
    from audit.findings import Finding, Report
    from audit.rules.rule import Rule
    from audit.season import Season

__all__ = ["Checked", "check_closely", "recheck"]

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


def check_closely(season: Season, declared: Declarations, rules: Sequence[Rule]) -> Checked:
    """Audit a season, and keep what `recheck` needs."""
    layouts = Layouts()
    answers = ask_all(season, declared, rules, layouts)
    explained = explain_closely(season, declared, gathered_of(answers), layouts=layouts)
    report = report_of(season, declared, explained.gathered)
    return Checked(season, declared, tuple(rules), answers, explained, report, layouts)


def recheck(checked: Checked, label: str, field: str, typed: str) -> Checked:
    """Audit a season again in which one cell holds another text.

    A rule keeps its answers where the cell stands in no column that it heeds and where it sees the same cells
    in doubt; all others are asked again about the whole season, in order, so that their findings are those of
    a whole check. Measures are weighed again in rows of the same day, box, bird or tag as the edited row,
    beside it on the sheet, or of which a rule says something else than before, and in the like rows around
    those; of all others in some whose explanation is not settled, those weighed longest ago first. For the
    rest what was weighed before is kept, and with it what the season as a whole had taught until then: its
    rate of slips, its bags, how its birds grow. One cell moves these a little; a whole check takes it in.

    Parameters
    ----------
    checked : Checked
        Not changed.
    label, field, typed : str
        As in `audit.intake.amending.amend`.

    Raises
    ------
    audit.refusal.SeasonRefusal
        The season has no such row, or its sheet no such column.
    """
    season = amend(checked.season, checked.declared, label, field, typed)
    table, rows = _changed_rows(checked.season, season, label, field)
    if not rows:
        return checked
    edited = frozenset({(table, field)})
    layouts = checked.layouts.without(edited)
    answers = _ask_again(checked, season, edited, rows, layouts)
    explained = _explain_again(checked, season, edited, rows, answers, layouts)
    report = report_of(season, checked.declared, explained.gathered)
    return replace(
        checked, season=season, answers=answers, explained=explained, report=report, layouts=layouts
    )


def _changed_rows(before: Season, after: Season, label: str, field: str) -> tuple[str, frozenset[str]]:
    """Name the table, and the rows in which text or value is another one: ditto marks below follow."""
    name = after.table_of(label)
    one, other = before.tables[name], after.tables[name]
    differs = one.typed[field].to_numpy(dtype=object) != other.typed[field].to_numpy(dtype=object)
    if field in other.frame.columns:
        was, now = one.frame[field], other.frame[field]
        differs |= ~((was == now).fillna(value=False) | (was.isna() & now.isna())).to_numpy(dtype=bool)
    return name, frozenset(other.frame.index[differs])


def _ask_again(
    checked: Checked, season: Season, edited: Columns, rows: Collection[str], layouts: Layouts
) -> tuple[Answered, ...]:
    answers: list[Answered] = []
    was: Cells = frozenset()
    now: Cells = frozenset()
    for rule, before in zip(checked.rules, checked.answers, strict=True):
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
    weighers = [rule for rule in checked.rules if rule.slug in _WEIGHED]
    told_of = {
        label
        for label, field in _blamed_otherwise(checked.answers, answers)
        if any(rule.minds({(season.table_of(label), field)}) for rule in weighers)
    }
    if any(rule.minds(edited) for rule in weighers):
        told_of.update(rows)
    touched = neighbourhood((checked.season, season), told_of) if told_of else frozenset()
    return explain_closely(season, checked.declared, gathered_of(answers), renewed, touched, layouts)


def _blamed_otherwise(before: Sequence[Answered], after: Sequence[Answered]) -> Cells:
    """Cells of findings that were not made before, or are not made now."""
    was, now = ({_evidence(one) for answer in some for one in answer.findings} for some in (before, after))
    return frozenset().union(*(cells for _, _, cells in was ^ now))


def _evidence(finding: Finding) -> tuple[str, bool, Cells]:
    cells = frozenset((suspect.cell.label, suspect.cell.field) for suspect in finding.suspects)
    return finding.rule, finding.severity != "note", cells

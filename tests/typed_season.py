"""Build a typed season straight from Python values, without any file: for tests of rules and compilers."""

from __future__ import annotations

import string
from typing import TYPE_CHECKING, Any

import pandas as pd

from audit.declarations import Declarations, load_declarations
from audit.declarations.tables import DTYPES
from audit.rules.case import Case
from audit.rules.layouts import Layouts
from audit.rules.plain import plain_text
from audit.rules.round import ask_all, gathered_of, report_of
from audit.season import Column, Season, Table, row_label

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.findings import Finding, NotRun, Report
    from audit.rules.round import Gathered
    from audit.rules.rule import Rule


def typed_season(declared: Declarations | None = None, **tables: list[dict[str, Any]]) -> Season:
    """Each table is a list of rows; the first row stands in spreadsheet row 2."""
    declared = declared or load_declarations()
    built = {}
    for name, rows in tables.items():
        kinds = {field.name: field.kind for field in declared.tables[name].fields}
        fields = [field for field in kinds if any(field in row for row in rows)]
        labels = [row_label(name, i + 2) for i in range(len(rows))]
        index = pd.Index(labels, dtype="str")
        values, typed = {}, {}
        for field in fields:
            cells = [row.get(field) for row in rows]
            column = pd.Series(cells, dtype="object")
            if kinds[field] in ("date", "datetime"):
                column = pd.to_datetime(column)
            values[field] = column.astype(DTYPES[kinds[field]]).array
            typed[field] = pd.array([plain_text(v) for v in cells], dtype="str")
        columns = {(name, field): Column(field, string.ascii_uppercase[i]) for i, field in enumerate(fields)}
        built[name] = Table(
            name, pd.DataFrame(values, index=index), pd.DataFrame(typed, index=index), columns
        )
    return Season("test", built)


def ask(
    rule: Rule,
    season: Season,
    declared: Declarations | None = None,
    doubted: frozenset[tuple[str, str]] = frozenset(),
) -> list[Finding | NotRun]:
    """Ask one rule about a season."""
    declared = declared or load_declarations()
    return list(rule.check(Case(season, declared, declared.rules[rule.slug], doubted)))


def gather(season: Season, declared: Declarations, rules: Sequence[Rule]) -> Gathered:
    """Ask some rules, in order."""
    return gathered_of(ask_all(season, declared, rules, Layouts()))


def reported(season: Season, declared: Declarations, rules: Sequence[Rule]) -> Report:
    """Ask some rules, and report each on its own, without weighing them together."""
    return report_of(season, declared, gather(season, declared, rules))


def blamed(answers: list[Finding | NotRun]) -> dict[tuple[str, str], tuple[str, str]]:
    """(label, field) of each suspect cell above a note -> (rule, suggestion)."""
    return {
        (suspect.cell.label, suspect.cell.field): (answer.rule, suspect.suggested)
        for answer in answers
        if hasattr(answer, "suspects") and answer.severity != "note"
        for suspect in answer.suspects
    }

"""Double entry: two typings of the same field sheets, compared cell by cell by what the cells mean."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from audit.findings import Report
from audit.named_findings import identify, sort_findings
from audit.refusal import SeasonRefusal
from audit.review.differences import Differences, Found
from audit.review.exhibit import Excerpt, Line
from audit.review.typing_rows import HAND_TYPED, PairedTable, paired_tables
from audit.review.wording import counted
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from audit.declarations import Declarations
    from audit.findings import Finding
    from audit.season import Season

__all__ = ["DoubleEntry", "compare", "second_typing"]

#: Rows of the second typing shown before and after the one in question.
_AROUND = 1


@dataclass(frozen=True)
class DoubleEntry:
    """Two typings side by side.

    Attributes
    ----------
    first, second : Season
        As typed; the findings stand on cells of the first.
    names : tuple of two str
        What each typing is called: mostly the name of its file.
    report : Report
        Its findings are the differences.
    found : mapping of str to Found
        By identity of the finding: where it stands in the second typing, and how likely each text is right.
    tables : tuple of PairedTable
        Pairs of rows, and rows that only one typing has.
    audits : tuple of two Report
        What the audit says of each typing on its own.
    declared : Declarations
    """

    first: Season
    second: Season
    names: tuple[str, str]
    report: Report
    found: Mapping[str, Found] = field(repr=False)
    tables: tuple[PairedTable, ...] = field(repr=False)
    audits: tuple[Report, Report] = field(repr=False)
    declared: Declarations = field(repr=False)

    @property
    def rows(self) -> tuple[tuple[str, str], ...]:
        """Labels of all pairs of rows: first, second."""
        return tuple(pair for table in self.tables for pair in table.pairs())

    @property
    def alone_first(self) -> tuple[str, ...]:
        """Labels of rows that only the first typing has."""
        return tuple(t.first_labels[i] for t in self.tables for i in t.rows.alone_first)

    @property
    def alone_second(self) -> tuple[str, ...]:
        """Labels of rows that only the second typing has."""
        return tuple(t.second_labels[j] for t in self.tables for j in t.rows.alone_second)

    @property
    def differences(self) -> tuple[Finding, ...]:
        """Findings that two cells differ, or one is empty: what is decided cell by cell."""
        return tuple(one for one in self.report.findings if self.found[one.identity].of_cells)

    @cached_property
    def compared(self) -> dict[tuple[str, str], int]:
        """Cells compared, by (table, column): those of paired rows that are filled in either typing."""
        return {
            (table.table, column.field): sum(
                bool(column.first[i] or column.second[j]) for i, j in table.rows.pairs
            )
            for table in self.tables
            for column in table.columns
        }

    def __repr__(self) -> str:
        pairs = len(self.rows)
        return (
            f"{self.names[0]} and {self.names[1]}: {pairs:,} rows paired, "
            f"{len(self.differences):,} differences in {sum(self.compared.values()):,} cells."
        )


def compare(
    first: Season, second: Season, declared: Declarations, audits: tuple[Report, Report]
) -> DoubleEntry:
    """Compare two typings of the same field sheets.

    Parameters
    ----------
    first, second : Season
        Neither is changed.
    audits : tuple of two Report
        The audit of each typing on its own: where it blames one of two texts, the other is probably right.

    Returns
    -------
    DoubleEntry

    Raises
    ------
    audit.refusal.SeasonRefusal
        The two are one file, or have no row in common.
    """
    _refuse_one_file(first, second)
    names = _names(first, second)
    tables = paired_tables(first, second, declared)
    if not any(table.rows.pairs for table in tables if table.table == "handlings"):
        raise SeasonRefusal(
            "The two files have no row in common.",
            where=f"{names[0]} and {names[1]}",
            cure="Name two typings of the same field sheets; look whether the columns were read as you mean "
            "them ('nestproof check' tells).",
        )
    differences = Differences(first, second, names, declared, audits)
    made = [one for table in tables for one in differences.of(table)]
    ordered = sort_findings([one.finding for one in made])
    by_content = {id(one.finding): one for one in made}
    found: dict[str, Found] = {}
    named = []
    for plain, finding in zip(ordered, identify(ordered), strict=True):
        found[finding.identity] = replace(by_content[id(plain)], finding=finding)
        named.append(finding)
    grouped = _by_slip(named, found)
    report = Report(
        season=first.name,
        findings=grouped,
        notices=tuple(
            _notices(
                (first, second),
                names,
                tables,
                differences,
                float(declared.settings["double_entry.show.copy_share"].value),
            )
        ),
        rows_read=tuple((table.table, len(table.first_labels)) for table in tables),
        rules_run=("double_entry",),
        sources=tuple(str(source) for source in declared.sources),
    )
    found = {one.identity: replace(found[one.identity], finding=one) for one in grouped}
    return DoubleEntry(first, second, names, report, found, tables, audits, declared)


def second_typing(double: DoubleEntry, finding: Finding) -> Excerpt | None:
    """Show the row of the second typing, and its neighbours, as one more excerpt on the desk.

    Parameters
    ----------
    finding : Finding
        One of ``double.report``; for any other the row that is paired with that of its first suspect.

    Returns
    -------
    Excerpt or None
        Kind ``second_typing``. Labels of its lines bear the name of the file, as no row of the first typing
        does; the cell in question is a witness. None where the second typing has no such row.
    """
    known = double.found.get(finding.identity)
    if known is not None:
        label, name = known.second_label, known.field
    else:
        cell = finding.suspects[0].cell
        label, name = dict(double.rows).get(cell.label, ""), cell.field
    if not label:
        return None
    table = double.second.tables[double.second.table_of(label)]
    sheet, _ = split_label(label)
    labels = [str(one) for one in table.typed.index if split_label(str(one))[0] == sheet]
    at = labels.index(label)
    shown = labels[max(0, at - _AROUND) : at + _AROUND + 1]
    part = table.typed.loc[shown]
    fields = [
        str(one)
        for one in table.typed.columns
        if one == name or any(isinstance(text, str) and text for text in part[one])
    ]
    file = double.names[1]
    return Excerpt(
        title=f"{sheet} as typed in {file}",
        kind="second_typing",
        fields=tuple(fields),
        heads=tuple(
            table.columns[sheet, one].header if (sheet, one) in table.columns else one for one in fields
        ),
        lines=tuple(
            Line(f"{file}, {one}", str(split_label(one)[1]), tuple(str(part.loc[one, f]) for f in fields))
            for one in shown
        ),
        witnesses=frozenset({(f"{file}, {label}", name)} if name in fields else set()),
    )


def _by_slip(findings: Sequence[Finding], found: Mapping[str, Found]) -> tuple[Finding, ...]:
    """Let differences that one slip explains share a group, which bears the first name of its members."""
    members: dict[str, list[str]] = {}
    for one in findings:
        members.setdefault(found[one.identity].slip or one.identity, []).append(one.identity)
    group = {name: min(names) for names in members.values() for name in names}
    return tuple(replace(one, group=group[one.identity]) for one in findings)


def _notices(
    seasons: tuple[Season, Season],
    names: tuple[str, str],
    tables: Sequence[PairedTable],
    differences: Differences,
    least_share: float,
) -> Iterator[str]:
    """Say what was not compared, and what a person should know of the rows."""
    for season, rest, name in zip(seasons, seasons[::-1], names, strict=True):
        for kind in HAND_TYPED:
            if kind in season.tables and kind not in rest.tables:
                yield f"Only {name} has the table {kind}: it was not compared."
    for table in tables:
        for fields, name in zip((table.only_first, table.only_second), names, strict=True):
            if fields:
                column = "column" if len(fields) == 1 else "columns"
                yield f"{table.table}: only {name} has the {column} {', '.join(fields)}: not compared."
        yield from differences.written_throughout(table)
        if table.rows.moved:
            rows = counted(len(table.rows.moved), "row")
            verb = "stands" if len(table.rows.moved) == 1 else "stand"
            yield f"{table.table}: {rows} of {names[0]} {verb} in another order in {names[1]}."
        fewer = min(len(table.first_labels), len(table.second_labels))
        if len(table.rows.pairs) < least_share * fewer:
            yield (
                f"{table.table}: only {len(table.rows.pairs):,} of {counted(fewer, 'row')} stand in both: "
                "are these typings of the same sheets?"
            )


def _refuse_one_file(first: Season, second: Season) -> None:
    one, other = _path(first), _path(second)
    if one and other and one.samefile(other):
        raise SeasonRefusal(
            "Both typings are the same file.",
            where=str(one),
            cure="Name the two files that two people typed, each on their own.",
        )


def _path(season: Season) -> Path | None:
    """Return the file that a season was read from; None for one made from data frames."""
    path = Path(season.source) if season.source else None
    return path if path and path.exists() else None


def _names(first: Season, second: Season) -> tuple[str, str]:
    paths = [_path(season) for season in (first, second)]
    short = [path.name if path else season.name for path, season in zip(paths, (first, second), strict=True)]
    if short[0] == short[1] and paths[0] and paths[1]:
        short = [f"{path.parent.name}/{path.name}" for path in paths if path]
    if short[0] == short[1]:
        return "the first typing", "the second typing"
    return short[0], short[1]

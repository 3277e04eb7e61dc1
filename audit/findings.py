"""What the audit says: cells, findings and the report. Frozen records, standard library only."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from html import escape
from typing import TYPE_CHECKING, Any, Literal

from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

__all__ = [
    "COLUMNS",
    "SEVERITIES",
    "Cell",
    "Finding",
    "NotRun",
    "Report",
    "RowMarks",
    "Severity",
    "Suspect",
]

Severity = Literal["error", "suspect", "note"]

#: From the gravest to the mildest.
SEVERITIES: tuple[Severity, ...] = ("error", "suspect", "note")

#: Columns of the flat form of a report, in order. Only ever extended at the end.
COLUMNS: tuple[str, ...] = (
    "finding",
    "group",
    "rule",
    "severity",
    "sheet",
    "row",
    "column",
    "cell",
    "field",
    "observed",
    "suggested",
    "p_error",
    "p_fix",
    "message",
    "box",
    "date",
    "ring",
    "tag",
)


@dataclass(frozen=True, slots=True)
class RowMarks:
    """Box, date, ring and tag of a row as typed: how a person finds the row again in the field notebook."""

    box: str = ""
    date: str = ""
    ring: str = ""
    tag: str = ""


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell of the file as typed.

    Attributes
    ----------
    sheet, row, column, address : str, int, str, str
        Sheet name, spreadsheet row (header rows counted), header as typed, address such as ``F17``.
        A table that has no such column gives the address of the row alone, such as ``17``.
    field : str
        Canonical column name.
    observed : str
        The text as typed, empty for an empty cell.
    label : str
        Row label, ``sheet!row``: the index of the season's tables.
    marks : RowMarks
        Box, date, ring and tag of the row, as typed.
    """

    sheet: str
    row: int
    column: str
    address: str
    field: str
    observed: str
    label: str
    marks: RowMarks = RowMarks()


@dataclass(frozen=True, slots=True)
class Suspect:
    """A cell that is probably wrong, with the likeliest true value where one can be named.

    Attributes
    ----------
    suggested : str
        Likeliest true value; empty when none can be named. Dates as ISO 8601.
    p_error : float
        Probability, 0 to 1, that the cell is wrong.
    p_fix : float or None
        Probability that `suggested` is the true value; None without a suggestion.
    others : tuple of (str, float)
        Further values that may have been meant, likeliest first, each with the probability that it is the
        true one. Neither `suggested` nor the text as typed is among them; with `p_fix` they make no more
        than `p_error`.
    """

    cell: Cell
    suggested: str = ""
    p_error: float = 0.5
    p_fix: float | None = None
    others: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is wrong, unlikely or worth knowing.

    Attributes
    ----------
    rule : str
        Slug such as ``tare.not_subtracted``.
    severity : {'error', 'suspect', 'note'}
        Cannot be true; unlikely; worth knowing.
    suspects : tuple of Suspect
        The cells a person is asked to look at.
    witnesses : tuple of Cell
        Innocent cells that led to the finding.
    message : str
        One sentence for the person who typed it.
    identity, group : str
        Set by the audit; the identity does not depend on row numbers.
    """

    rule: str
    severity: Severity
    suspects: tuple[Suspect, ...]
    message: str
    witnesses: tuple[Cell, ...] = ()
    identity: str = ""
    group: str = ""

    def __post_init__(self) -> None:
        """Refuse a finding that points nowhere."""
        if not self.suspects:
            raise ValueError(f"{self.rule}: a finding needs at least one suspect cell")


@dataclass(frozen=True, slots=True)
class NotRun:
    """A rule, or a part of one, that could not run, and why."""

    rule: str
    reason: str


@dataclass(frozen=True, slots=True, repr=False)
class Report:
    """The outcome of an audit.

    Attributes
    ----------
    season : str
        Name of the season: the stem of the file.
    findings : tuple of Finding
        Sorted by sheet, row, column, rule.
    not_run : tuple of NotRun
        Rules that could not run, and why.
    notices : tuple of str
        What could not be read, or was read in an unusual way, sheet by sheet.
    rows_read : tuple of (str, int)
        How many rows each table holds.
    rules_run : tuple of str
        Slugs of the rules that ran.
    sources : tuple of str
        Folders that the declarations came from.
    opener : callable or None
        Opens the desk; given by whoever audited the season and still has it at hand.
    """

    season: str
    findings: tuple[Finding, ...]
    not_run: tuple[NotRun, ...] = ()
    notices: tuple[str, ...] = ()
    rows_read: tuple[tuple[str, int], ...] = ()
    rules_run: tuple[str, ...] = ()
    sources: tuple[str, ...] = field(default=(), compare=False)
    opener: Callable[..., Any] | None = field(default=None, compare=False)

    def desk(self, **settings: Any) -> Any:  # noqa: ANN401 - a widget of a library that this layer may not know
        """Open the desk in a notebook: the findings one after the other, to be decided.

        Parameters
        ----------
        **settings
            As for `audit.review.opening.open_desk`: ``who``, ``log``, ``also``.

        Raises
        ------
        audit.refusal.Refusal
            The report was read or made by hand, so that the rows are not at hand.
        """
        if self.opener is None:
            raise Refusal(
                "This report stands alone: the season it is about is not at hand.",
                where=f"report of {self.season}",
                cure="Read the season and check it: audit.check(audit.read_season(...)).desk().",
            )
        return self.opener(self, **settings)

    def rows(self) -> list[dict[str, object]]:
        """One dictionary per suspect cell of each finding, keys as in `COLUMNS`."""
        return [
            {
                "finding": finding.identity,
                "group": finding.group,
                "rule": finding.rule,
                "severity": finding.severity,
                "sheet": suspect.cell.sheet,
                "row": suspect.cell.row,
                "column": suspect.cell.column,
                "cell": suspect.cell.address,
                "field": suspect.cell.field,
                "observed": suspect.cell.observed,
                "suggested": suspect.suggested,
                "p_error": round(suspect.p_error, 4),
                "p_fix": None if suspect.p_fix is None else round(suspect.p_fix, 4),
                "message": finding.message,
                "box": suspect.cell.marks.box,
                "date": suspect.cell.marks.date,
                "ring": suspect.cell.marks.ring,
                "tag": suspect.cell.marks.tag,
            }
            for finding in self.findings
            for suspect in finding.suspects
        ]

    def count(self, severity: Severity) -> int:
        """Count the findings of one severity."""
        return sum(finding.severity == severity for finding in self.findings)

    @property
    def above_notes(self) -> tuple[Finding, ...]:
        """Errors and suspects: what a person is asked to look at."""
        return tuple(finding for finding in self.findings if finding.severity != "note")

    def by_rule(self) -> list[tuple[str, Severity, int]]:
        """Count findings by rule and severity, gravest and most frequent first."""
        counts = Counter((finding.rule, finding.severity) for finding in self.findings)
        return sorted(
            ((rule, severity, n) for (rule, severity), n in counts.items()),
            key=lambda item: (SEVERITIES.index(item[1]), -item[2], item[0]),
        )

    def _counted(self) -> str:
        """Count findings in words: ``20 errors, 1 suspect and 6 notes``."""
        told = [
            f"{number:,} {severity}{'' if number == 1 else 's'}"
            for severity in SEVERITIES
            for number in [self.count(severity)]
        ]
        return f"{', '.join(told[:-1])} and {told[-1]}"

    def __repr__(self) -> str:
        tables = ", ".join(f"{table} {rows:,}" for table, rows in self.rows_read)
        counts = self._counted()
        gravest = [
            f"{finding.severity} {finding.suspects[0].cell.sheet}"
            f" {' '.join(suspect.cell.address for suspect in finding.suspects)}: {finding.message}"
            for finding in sorted(self.findings, key=_gravity)[:_SHOWN]
        ]
        more = len(self.findings) - len(gravest)
        return "\n".join(
            [
                f"{self.season}: {counts}. Rows read: {tables or 'none'}.",
                *gravest,
                *([f"{more:,} more in report.findings."] if more else []),
            ]
        )

    def _repr_html_(self) -> str:
        """Show counts, the first findings and how many more there are: static, for a notebook."""
        tables = ", ".join(f"{table} {rows:,}" for table, rows in self.rows_read)
        counts = self._counted()
        parts = [
            f"<p><strong>{escape(self.season)}</strong>: {counts}.</p>",
            f"<p>Rows read: {escape(tables) or 'none'}.</p>",
            _html_table(
                "By rule",
                ("severity", "rule", "findings"),
                [(severity, rule, f"{number:,}") for rule, severity, number in self.by_rule()],
            ),
            _html_table(
                "Gravest first",
                ("severity", "sheet", "cell", "box", "date", "as typed", "suggested", "message"),
                [_html_line(finding) for finding in sorted(self.findings, key=_gravity)[:_SHOWN]],
            ),
        ]
        more = len(self.findings) - _SHOWN
        if more > 0:
            parts.append(f"<p>{more:,} more findings are in <code>report.findings</code>.</p>")
        parts.append(
            _html_table("Not checked", ("rule", "why"), [(part.rule, part.reason) for part in self.not_run])
        )
        parts.extend(f"<p>{escape(notice)}</p>" for notice in self.notices)
        return "\n".join(part for part in parts if part)


#: Findings that the notebook form of a report shows.
_SHOWN = 20


def _gravity(finding: Finding) -> int:
    return SEVERITIES.index(finding.severity)


def _html_line(finding: Finding) -> tuple[str, ...]:
    first = finding.suspects[0].cell
    return (
        finding.severity,
        first.sheet,
        " ".join(suspect.cell.address for suspect in finding.suspects),
        first.marks.box,
        first.marks.date,
        " / ".join(suspect.cell.observed for suspect in finding.suspects),
        " / ".join(suspect.suggested for suspect in finding.suspects if suspect.suggested),
        finding.message,
    )


#: Notebooks set everything to the right, and break a date at its hyphens.
_LEFT = "text-align:left"
_WHOLE = frozenset({"severity", "rule", "sheet", "box", "date"})


def _html_table(caption: str, heads: tuple[str, ...], lines: Sequence[tuple[str, ...]]) -> str:
    if not lines:
        return ""
    looks = [_LEFT + (";white-space:nowrap" if head in _WHOLE else "") for head in heads]
    head = "".join(f'<th scope="col" style="{_LEFT}">{text}</th>' for text in heads)
    body = "\n".join(
        "<tr>"
        + "".join(f'<td style="{look}">{escape(text)}</td>' for look, text in zip(looks, line, strict=True))
        + "</tr>"
        for line in lines
    )
    return f"<table><caption>{caption}</caption><thead><tr>{head}</tr></thead>\n<tbody>{body}</tbody></table>"

"""How counts, probabilities and severities are worded, the same in every file that goes out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.charts.wording import counted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.findings import Report, Severity, Suspect

__all__ = ["address", "chance", "counted", "headline", "listed", "rows_read", "some_of", "suggestion"]

_ALL = 100  # percent
_MANY: dict[Severity, tuple[str, str]] = {
    "error": ("error", "errors"),
    "suspect": ("suspect", "suspects"),
    "note": ("note", "notes"),
}


def listed(words: Sequence[str]) -> str:
    """List words in a sentence.

    Examples
    --------
    >>> listed(["title"]), listed(["title", "team", "contact"])
    ('title', 'title, team and contact')
    """
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def some_of(names: Sequence[str], most: int) -> str:
    """Write the first of many names, and count the rest.

    Examples
    --------
    >>> some_of(["SV01001", "SV01003"], 2), some_of(["a", "b", "c"], 2)
    ('SV01001, SV01003', 'a, b and 1 more')
    """
    shown, more = ", ".join(names[:most]), len(names) - most
    return f"{shown} and {more:,} more" if more > 0 else shown


def chance(probability: float) -> str:
    """Write a probability as a person reads it; never as certain.

    Examples
    --------
    >>> chance(0.9), chance(0.9999), chance(0.001)
    ('90 %', 'over 99 %', 'under 1 %')
    """
    percent = round(probability * _ALL)
    if percent >= _ALL:
        return f"over {_ALL - 1} %"
    return "under 1 %" if percent < 1 else f"{percent} %"


def address(suspect: Suspect) -> str:
    """Sheet and cell of a suspect: ``handlings F17``; a row alone where the sheet has no such column."""
    cell = suspect.cell
    place = cell.address if cell.column else f"row {cell.row}"
    return f"{cell.sheet} {place}"


def suggestion(suspect: Suspect) -> str:
    """Say what was probably meant, empty when nothing can be named."""
    if not suspect.suggested:
        return ""
    sure = "" if suspect.p_fix is None else f" ({chance(suspect.p_fix)})"
    return f"suggested {suspect.suggested}{sure}"


def rows_read(report: Report) -> str:
    """Say how many rows each table holds: ``handlings 212 rows, visits 40 rows``."""
    return ", ".join(f"{table} {counted(rows, 'row')}" for table, rows in report.rows_read)


def headline(report: Report) -> str:
    """Count errors, suspects and notes in one sentence; an empty season is not one without a fault."""
    if not report.findings:
        empty = dict(report.rows_read).get("handlings", 1) == 0
        return "No bird stands in the handlings, so there was nothing to find." if empty else "Nothing found."
    counts = [counted(report.count(severity), *words) for severity, words in _MANY.items()]
    return f"{counts[0]}, {counts[1]} and {counts[2]}."

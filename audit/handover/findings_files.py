"""The findings as files: one line per suspect cell (CSV), everything (JSON)."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from audit.findings import COLUMNS
from audit.handover.table_file import write_table

if TYPE_CHECKING:
    from pathlib import Path

    from audit.findings import Cell, Finding, Report, Suspect

__all__ = ["FORMAT", "VERSION", "report_tree", "write_csv", "write_json"]

#: Name and version of the JSON form; the version changes only when a key changes its meaning.
FORMAT = "nestproof-findings"
VERSION = 1


def write_csv(report: Report, path: Path) -> None:
    """Write one line per suspect cell of each finding: UTF-8, columns as in `audit.findings.COLUMNS`.

    Text is written as typed, codes in full digits; a text that a spreadsheet would run as a formula gets an
    apostrophe in front (`table_file.unguard` takes it off; the JSON file has the bare text).
    """
    write_table(path, [COLUMNS, *([row[name] for name in COLUMNS] for row in report.rows())])


def write_json(report: Report, path: Path) -> None:
    """Write the whole report, witnesses included; its form is ``schemas/forms/findings.yaml``."""
    text = json.dumps(report_tree(report), ensure_ascii=False, indent=1)
    path.write_text(f"{text}\n", encoding="utf-8", newline="\n")


def report_tree(report: Report) -> dict[str, object]:
    """Turn a report into plain values, ready for JSON."""
    return {
        "format": FORMAT,
        "version": VERSION,
        "season": report.season,
        "rows_read": dict(report.rows_read),
        "rules_run": list(report.rules_run),
        "not_run": [{"rule": part.rule, "reason": part.reason} for part in report.not_run],
        "notices": list(report.notices),
        "findings": [_finding_tree(finding) for finding in report.findings],
    }


def _finding_tree(finding: Finding) -> dict[str, object]:
    return {
        "finding": finding.identity,
        "group": finding.group,
        "rule": finding.rule,
        "severity": finding.severity,
        "message": finding.message,
        "suspects": [_suspect_tree(suspect) for suspect in finding.suspects],
        "witnesses": [_cell_tree(cell) for cell in finding.witnesses],
    }


def _suspect_tree(suspect: Suspect) -> dict[str, object]:
    return {
        **_cell_tree(suspect.cell),
        "suggested": suspect.suggested,
        "p_error": round(suspect.p_error, 4),
        "p_fix": None if suspect.p_fix is None else round(suspect.p_fix, 4),
        "others": [{"value": value, "p": round(p, 4)} for value, p in suspect.others],
    }


def _cell_tree(cell: Cell) -> dict[str, object]:
    return {
        "sheet": cell.sheet,
        "row": cell.row,
        "column": cell.column,
        "cell": cell.address,
        "field": cell.field,
        "observed": cell.observed,
        "box": cell.marks.box,
        "date": cell.marks.date,
        "ring": cell.marks.ring,
        "tag": cell.marks.tag,
    }

"""A comparison of two typings as files: a table for further work, and a page to read."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.handover.differences.differences_page import differences_page
from audit.handover.folder import write_whole
from audit.handover.table_file import write_table
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from audit.review.decisions import Decision
    from audit.review.double_entry import DoubleEntry

__all__ = ["COLUMNS", "write_differences"]

#: Columns of ``differences.csv``, in order. Only ever extended at the end.
COLUMNS = (
    "finding",
    "group",
    "rule",
    "severity",
    "table",
    "field",
    "first_sheet",
    "first_row",
    "first_cell",
    "first_text",
    "second_sheet",
    "second_row",
    "second_cell",
    "second_text",
    "p_first_right",
    "p_second_right",
    "p_neither_right",
    "message",
    "box",
    "date",
    "ring",
    "tag",
)


def write_differences(
    double: DoubleEntry,
    out: Path,
    *,
    decisions: Sequence[Decision] = (),
    inputs: Sequence[Path | None] = (),
) -> list[Path]:
    """Write ``differences.csv`` and ``differences.html``.

    Parameters
    ----------
    out : Path
        Folder for the results, made when it is not there.
    decisions : sequence of Decision, optional
        About the first typing: with all differences decided the page says how many errors were missed.
    inputs : sequence of Path
        Files that were read: no result may replace them.

    Raises
    ------
    audit.refusal.Refusal
        The folder cannot be written to, or a result would replace a file that was read.
    """
    writers = {
        "differences.csv": lambda path: write_table(path, (COLUMNS, *_rows(double))),
        "differences.html": lambda path: path.write_text(
            differences_page(double, decisions), encoding="utf-8", newline="\n"
        ),
    }
    return write_whole(writers, out, inputs)


def _rows(double: DoubleEntry) -> Iterator[tuple[object, ...]]:
    for finding in double.report.findings:
        cell, found = finding.suspects[0].cell, double.found[finding.identity]
        second = found.second_cell
        sheet, row = split_label(found.second_label) if found.second_label else ("", None)
        chances = found.chances
        yield (
            *(finding.identity, finding.group, finding.rule, finding.severity, found.table, found.field),
            *(cell.sheet, cell.row, cell.address, found.texts[0] if second else cell.observed),
            *(sheet, row, second.address if second else "", found.texts[1]),
            *(
                (round(chances.first, 4), round(chances.second, 4), round(chances.neither, 4))
                if chances
                else (None, None, None)
            ),
            finding.message,
            *(cell.marks.box, cell.marks.date, cell.marks.ring, cell.marks.tag),
        )

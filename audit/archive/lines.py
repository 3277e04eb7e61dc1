"""Findings of an archive as lines: one for each suspect cell, with file and row of where it stands."""

from __future__ import annotations

import csv
import io
import json
from typing import TYPE_CHECKING

from audit.archive.excerpt import EARLIER
from audit.findings import COLUMNS
from audit.handover.table_file import guard

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from audit.archive.excerpt import Excerpt
    from audit.findings import Finding

    #: Column -> text.
    Line = dict[str, str]

__all__ = ["LINE_COLUMNS", "WITNESSES", "csv_text", "lines_of", "witnesses_in"]

#: Rows of earlier seasons on which a finding rests: kept with a line, and not written.
WITNESSES = "witnesses"

_PLACE = ("sheet", "row", "cell")
#: Columns of the findings of an archive: those of a season's findings, but for sheet and address.
LINE_COLUMNS = (
    *("season", "scheme", "team", "file", "row"),
    *(name for name in COLUMNS if name not in _PLACE),
)


def lines_of(
    excerpt: Excerpt, findings: Sequence[Finding], headers: Mapping[str, Mapping[str, str]]
) -> Iterator[Line]:
    """Write one line for each suspect cell, with the earlier rows on which it rests.

    Parameters
    ----------
    excerpt : Excerpt
        Of which the findings tell.
    findings : sequence of Finding
    headers : mapping of str to mapping of str to str
        File -> canonical column -> its name there.
    """
    for finding in findings:
        rests_on = _earlier(finding)
        for suspect in finding.suspects:
            cell = suspect.cell
            yield {
                "season": excerpt.season,
                "scheme": excerpt.scheme,
                "team": excerpt.team,
                "file": cell.sheet,
                "row": str(cell.row),
                "finding": finding.identity,
                "group": finding.group,
                "rule": finding.rule,
                "severity": finding.severity,
                "column": headers.get(cell.sheet, {}).get(cell.field, cell.column),
                "field": cell.field,
                "observed": cell.observed,
                "suggested": suspect.suggested,
                "p_error": f"{round(suspect.p_error, 4):g}",
                "p_fix": "" if suspect.p_fix is None else f"{round(suspect.p_fix, 4):g}",
                "message": finding.message,
                "box": cell.marks.box,
                "date": cell.marks.date,
                "ring": cell.marks.ring,
                "tag": cell.marks.tag,
                **rests_on,
            }


def _earlier(finding: Finding) -> dict[str, str]:
    cells = [
        [cell.sheet.removesuffix(EARLIER), str(cell.row), cell.field]
        for cell in finding.witnesses
        if cell.sheet.endswith(EARLIER)
    ]
    return {WITNESSES: json.dumps(cells, ensure_ascii=False)} if cells else {}


def witnesses_in(line: Line) -> list[tuple[str, str, str]]:
    """Give file, row and column of the cells of earlier seasons on which a line rests."""
    return [(file, row, field) for file, row, field in json.loads(line.get(WITNESSES, "[]"))]


def csv_text(lines: Iterable[Line]) -> str:
    """Write lines as CSV; a text that a spreadsheet would run as a formula gets an apostrophe in front."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(LINE_COLUMNS)
    writer.writerows([guard(line[name]) for name in LINE_COLUMNS] for line in lines)
    return stream.getvalue()

"""Fill in a query sheet as people do: in three formats, sorted, with lines deleted and columns added."""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING

import openpyxl
from sheets import opendocument

from audit.handover.query.words import ANSWER, BY_WHOM, IDENTITY, MARKS, REMARK

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

Row = list[str]


def rows_of(workbook: Path) -> list[Row]:
    """All rows of a query sheet, as text."""
    page = openpyxl.load_workbook(workbook).worksheets[0]
    return [[str(value or "") for value in row] for row in page.iter_rows(values_only=True)]


def headings_at(rows: Sequence[Row]) -> int:
    return next(i for i, row in enumerate(rows) if IDENTITY in row)


def fill(rows: list[Row], answers: Mapping[str, Mapping[str, str]], for_all: str = "") -> list[Row]:
    """Write answers into the lines of the questions with these identities."""
    top = headings_at(rows)
    at = {heading: rows[top].index(heading) for heading in (ANSWER, BY_WHOM, IDENTITY, REMARK, *MARKS)}
    filled = [list(row) for row in rows]
    for row in filled[top + 1 :]:
        for heading, text in answers.get(row[at[IDENTITY]], {}).items():
            row[at[heading]] = text
    if for_all:
        filled[top - 1][3] = for_all
    return filled


def write_xlsx(path: Path, rows: Sequence[Row]) -> Path:
    book = openpyxl.Workbook()
    for i, row in enumerate(rows, 1):
        for j, text in enumerate(row, 1):
            if text:
                cell = book.worksheets[0].cell(i, j, text)
                cell.data_type = "s"
    book.save(path)
    return path


def write_csv(path: Path, rows: Sequence[Row], delimiter: str = ";") -> Path:
    with path.open("w", encoding="utf-8-sig", newline="") as stream:
        csv.writer(stream, delimiter=delimiter).writerows(rows)
    return path


def write_ods(path: Path, rows: Sequence[Row]) -> Path:
    return opendocument(path, {"questions": rows})


WRITERS: Mapping[str, Callable[[Path, Sequence[Row]], Path]] = {
    ".xlsx": write_xlsx,
    ".ods": write_ods,
    ".csv": write_csv,
}

"""Write small season files of every kind, as a person or a program would have left them."""

from __future__ import annotations

import csv
import datetime as dt
from typing import TYPE_CHECKING, Any

import openpyxl
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import CoveredTableCell, Table, TableCell, TableRow
from odf.text import P

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence  # noqa: F401 - stands in the text of Rows
    from pathlib import Path

    from audit.season import Season

Rows = "Sequence[Sequence[Any]]"

HEADER = ("date", "box", "ring", "wing_mm", "remarks")
BIRDS = (
    ("2026-05-04", "SL-01", "SV01001", "201", "all well"),
    ("2026-05-04", "SL-01", "SV01002", "199", ""),
    ("2026-05-05", "SL-02", "SV01003", "188", "wet"),
)


def workbook(path: Path, sheets: Mapping[str, Rows]) -> Path:
    """Write an .xlsx workbook with the values as they are."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for i, row in enumerate(rows, start=1):
            for j, value in enumerate(row, start=1):
                if value not in (None, ""):
                    cell = sheet.cell(i, j, value)
                    if isinstance(value, str):
                        cell.data_type = "s"
    book.save(path)
    return path


def text_file(path: Path, rows: Rows, delimiter: str = ",", encoding: str = "utf-8") -> Path:
    """Write a file of separated values."""
    with path.open("w", encoding=encoding, newline="") as stream:
        csv.writer(stream, delimiter=delimiter).writerows(rows)
    return path


def opendocument(path: Path, sheets: Mapping[str, Rows]) -> Path:
    """Write an .ods file; a cell is a value, an (attributes, text) pair, or Ellipsis for a covered cell."""
    document = OpenDocumentSpreadsheet()
    for name, rows in sheets.items():
        table = Table(name=name)
        for row in rows:
            line = TableRow()
            for value in row:
                line.addElement(_ods_cell(value))
            table.addElement(line)
        document.spreadsheet.addElement(table)
    document.save(str(path))
    return path


def _ods_cell(value: Any) -> Any:
    if value is ...:
        return CoveredTableCell()
    attributes: dict[str, Any] = {}
    text = "" if value is None else str(value)
    if isinstance(value, tuple):
        attributes, text = value
    elif isinstance(value, bool):
        attributes = {"valuetype": "boolean", "booleanvalue": str(value).lower()}
    elif isinstance(value, (int, float)):
        attributes = {"valuetype": "float", "value": repr(value)}
    elif isinstance(value, dt.date):
        attributes = {"valuetype": "date", "datevalue": value.isoformat()}
    elif value:
        attributes = {"valuetype": "string"}
    cell = TableCell(**attributes)
    for line in text.split("\n") if text else []:
        cell.addElement(P(text=line))
    return cell


def as_typed(season: Season, table: str = "handlings") -> dict[tuple[str, str], str]:
    """(label, column) -> text as typed, empty cells left out."""
    typed = season.tables[table].typed
    return {
        (str(label), str(column)): str(text)
        for label, row in typed.to_dict("index").items()
        for column, text in row.items()
        if text
    }

"""Workbooks (.xlsx, .xlsm): cell by cell, formula and stored result, number format, merged ranges."""

from __future__ import annotations

import io
import re
import struct
import warnings
import zipfile
import zlib
from contextlib import closing
from dataclasses import replace
from typing import TYPE_CHECKING, cast

from lxml import etree
from openpyxl.formula.translate import TranslatorError
from openpyxl.reader.excel import ExcelReader
from openpyxl.utils.cell import coordinate_to_tuple, range_boundaries

from audit.intake.book_names import names_of_book
from audit.intake.grid import RawCell, Sheet, fill_merged, make_sheet, stored_text
from audit.intake.plain_formulas import PlainFormulas
from audit.intake.sheet_xml import hidden_parts, merged_ranges, stored_numbers
from audit.intake.streamed.workbook import read_part
from audit.refusal import SeasonRefusal

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from audit.intake.book_names import BookNames
    from audit.intake.streamed.workbook import Part, Streamed

__all__ = ["read_workbook"]

# What the library lets through when a part of the file is not what it should be.
_FAULTS = (
    AttributeError,
    EOFError,
    LookupError,
    NotImplementedError,
    OSError,
    RuntimeError,
    SyntaxError,
    TypeError,
    ValueError,
    TranslatorError,
    struct.error,
    zipfile.BadZipFile,
    zlib.error,
    etree.LxmlError,
)
_OTHER_FILE = re.compile(r"\[\d+\]|\[[^\]]+\.xls[xmb]?\]", re.IGNORECASE)
_DOCUMENT_TYPE = tuple("<!DOCTYPE".encode(code) for code in ("ascii", "utf-16-le", "utf-16-be"))


def read_workbook(path: Path) -> tuple[tuple[Sheet, ...], tuple[str, ...]]:
    """Read all sheets of a workbook, and say what was unusual.

    Formulas are not run and links to other files are not followed: the stored results are taken. Macros are
    left alone.

    Raises
    ------
    SeasonRefusal
        It is no workbook, or it is damaged.
    """
    notices: list[str] = []
    parts: list[Part] = []
    with warnings.catch_warnings():
        # The library warns about drawings, validation and the like, which hold no data.
        warnings.simplefilter("ignore")
        try:
            reader = _open(path)
        except _FAULTS as fault:
            raise SeasonRefusal(
                "This workbook is damaged: its parts cannot be read.",
                where=str(path),
                cure="Open it in a spreadsheet program, save it as .xlsx under a new name, and try again.",
            ) from fault
        with closing(reader.wb):
            if any("vbaProject" in name for name in reader.valid_files):
                notices.append("The workbook holds macros; they were not run.")
            plain = PlainFormulas(_names(reader))
            targets = {sheet.name: rel.target for sheet, rel in reader.parser.find_sheets()}
            for worksheet in cast("list[Streamed]", reader.wb.worksheets):
                try:
                    part = read_part(worksheet, reader.archive.read(targets[worksheet.title]))
                except _FAULTS:
                    notices.append(f"Sheet '{worksheet.title}' is damaged and was not read.")
                else:
                    parts.append(part)
    return tuple(_finish(part, plain) for part in parts), tuple(notices)


def _names(reader: ExcelReader) -> BookNames:
    """Tables and names of the workbook."""

    def part(name: str) -> bytes | None:
        try:
            return reader.archive.read(name)
        except _FAULTS:
            return None

    return names_of_book(part, reader.parser.workbook_part_name)


def _open(path: Path) -> ExcelReader:
    # Streaming keeps a sheet small whose last written cell stands in row 1,048,576. What streaming leaves out
    # (merged ranges, hidden rows) is read from the part, and this class knows which part is which sheet.
    # From bytes, since the library goes by the ending of a name and not by what the file is.
    stream = io.BytesIO(path.read_bytes())
    _refuse_document_types(stream)
    reader = ExcelReader(stream, read_only=True, keep_links=False)
    reader.read()
    return reader


def _refuse_document_types(stream: io.BytesIO) -> None:
    """Refuse a part that could declare entities, which can be made to grow without end.

    No part of a workbook has a document type (ISO/IEC 29500-2, 9.1.4, from memory).
    """
    with zipfile.ZipFile(stream) as archive:
        for part in archive.infolist():
            if not part.filename.endswith(".xml"):
                continue
            try:
                content = archive.read(part)
            except _FAULTS:
                # whoever needs it says that it is damaged
                continue
            if any(sign in content for sign in _DOCUMENT_TYPE):
                raise ValueError(f"{part.filename} has a document type")


def _finish(part: Part, plain: PlainFormulas) -> Sheet:
    notices = []
    for (i, j), formula in part.formulas.items():
        in_cells = plain.plain(formula, (part.name.casefold(), i + 1, j + 1), part.filled.get((i, j)))
        if in_cells != formula:
            part.rows[i][j] = replace(part.rows[i][j], plain=in_cells)
    if part.hidden:
        notices.append(f"Sheet '{part.name}' is hidden; it was read all the same.")
    if any(_OTHER_FILE.search(text) for text in part.formulas.values()):
        notices.append(
            f"Sheet '{part.name}' takes values from other files; they were not opened, the stored results "
            "were taken."
        )
    if part.undated:
        _mend_dates(part)
    fill_merged(part.rows, _merged(part))
    hidden = hidden_parts(part.xml, max((len(row) for row in part.rows), default=0))
    if hidden:
        notices.append(f"Sheet '{part.name}' has {hidden}; they were read all the same.")
    return make_sheet(part.name, part.rows, notices)


def _mend_dates(part: Part) -> None:
    """Give back the number of a cell that is shown as a date but is none, such as a tag in a date column."""
    for place, stored in stored_numbers(part.xml):
        row, column = coordinate_to_tuple(place)
        if (row - 1, column - 1) in part.undated:
            value = float(stored) if re.search(r"[.eE]", stored) else int(stored)
            old = part.rows[row - 1][column - 1]
            part.rows[row - 1][column - 1] = RawCell(value, stored_text(value), old.number_format)


def _merged(part: Part) -> Iterator[tuple[int, int, int, int]]:
    """Yield merged ranges as first row, first column, last row, last column, from 0."""
    for reference in merged_ranges(part.xml):
        left, top, right, bottom = range_boundaries(reference)
        if left and top and right and bottom:
            yield top - 1, left - 1, bottom - 1, right - 1

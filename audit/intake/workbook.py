"""Workbooks (.xlsx, .xlsm): cell by cell, formula and stored result, number format, merged ranges."""

from __future__ import annotations

import io
import re
import struct
import warnings
import zipfile
import zlib
from contextlib import closing
from dataclasses import dataclass, replace
from typing import IO, TYPE_CHECKING, Any, Protocol, cast

from lxml import etree
from openpyxl.cell.read_only import ReadOnlyCell
from openpyxl.formula.translate import TranslatorError
from openpyxl.reader.excel import ExcelReader
from openpyxl.styles.numbers import is_date_format
from openpyxl.utils.cell import coordinate_to_tuple, range_boundaries
from openpyxl.worksheet._reader import WorkSheetParser

from audit.intake.book_names import names_of_book
from audit.intake.filled_ranges import fill_ranges
from audit.intake.grid import EMPTY, RawCell, Sheet, fill_merged, make_sheet, stored_text
from audit.intake.plain_formulas import PlainFormulas
from audit.intake.sheet_xml import (
    empty_texts,
    hidden_parts,
    merged_ranges,
    rows_in_order,
    stored_numbers,
)
from audit.intake.wording import counted
from audit.refusal import SeasonRefusal

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from audit.intake.book_names import BookNames
    from audit.intake.formulas import Area
    from audit.intake.grid import Stored

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
_ERROR = "#VALUE!"
_DOCUMENT_TYPE = tuple("<!DOCTYPE".encode(code) for code in ("ascii", "utf-16-le", "utf-16-be"))
#: Halves of a pair are left alone: alone they are no character.
_ESCAPED = re.compile(r"_x((?![dD][89a-fA-F])[0-9a-fA-F]{4})_")


class _Streamed(Protocol):
    """A sheet as the library streams it."""

    title: str
    sheet_state: str
    parent: Any
    _shared_strings: Sequence[str]

    def _get_source(self) -> IO[bytes]: ...


class _Parser(WorkSheetParser):
    """The library's parser of cells; of a formula it reads the stored result in the same pass."""

    def __init__(self, source: IO[bytes], sheet: _Streamed) -> None:
        book = sheet.parent
        super().__init__(
            source,
            sheet._shared_strings,  # noqa: SLF001 - as the library streams a sheet
            epoch=book.epoch,
            date_formats=book._date_formats,  # noqa: SLF001 - as above
            timedelta_formats=book._timedelta_formats,  # noqa: SLF001 - as above
        )

    def parse_cell(self, element: Any) -> dict[str, Any]:  # noqa: ANN401 - of whichever parser it uses
        """Read a cell as typed, and of a formula its result beside it."""
        cell = super().parse_cell(element)
        if cell["data_type"] == "f":
            # where a cell does not say where it stands, the parser counts on from the last one
            self.col_counter -= 1
            self.data_only = True
            try:
                cell["result"] = super().parse_cell(element)["value"]
            finally:
                self.data_only = False
        return cell


@dataclass(frozen=True, slots=True)
class _Part:
    """The cells of one sheet as the library gives them, and the bytes that hold what it leaves out.

    Attributes
    ----------
    formulas : mapping of (row, column) to str
        From 0.
    filled : mapping of (row, column) to Area
        Cells of ranges that one formula fills with its results.
    undated : tuple of (row, column)
        Numbers that are shown as dates but are none; the library drops them.
    """

    name: str
    hidden: bool
    xml: bytes
    rows: list[list[RawCell]]
    formulas: dict[tuple[int, int], str]
    filled: dict[tuple[int, int], Area]
    undated: tuple[tuple[int, int], ...]


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
    parts: list[_Part] = []
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
            for worksheet in cast("list[_Streamed]", reader.wb.worksheets):
                try:
                    part = _read_part(worksheet, reader.archive.read(targets[worksheet.title]))
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


def _read_part(worksheet: _Streamed, xml: bytes) -> _Part:
    if not rows_in_order(xml):
        # the library would pass over a row that is stored behind a later one
        raise ValueError("rows are stored out of order")
    rows: list[list[RawCell]] = []
    formulas: dict[tuple[int, int], str] = {}
    ranges: dict[tuple[int, int], str] = {}
    undated: list[tuple[int, int]] = []
    blank: list[tuple[int, int]] = []
    number_formats = _NumberFormats(worksheet)
    # far fewer cells differ than there are
    known: dict[tuple[type, object, int], RawCell] = {}
    with worksheet._get_source() as source:  # noqa: SLF001 - as the library streams it, cells without a frame
        for number, cells in _Parser(source, worksheet).parse():
            rows += [[] for _ in range(len(rows) + 1, number)]
            if number <= len(rows):
                continue
            i = number - 1
            # the stored extent of a sheet is wrong often enough to lose columns: the last cell tells it
            row = [EMPTY] * (cells[-1]["column"] if cells else 0)
            rows.append(row)
            for cell in cells:
                j, value, kind, style = cell["column"] - 1, cell["value"], cell["data_type"], cell["style_id"]
                if j >= len(row):
                    continue
                if value is None or value == "":
                    row[j] = EMPTY
                    if value == "":
                        blank.append((i, j))
                elif kind == "f":
                    formulas[i, j] = formula = _formula_text(value)
                    if reference := getattr(value, "ref", None):
                        ranges[i, j] = reference
                    result = cell["result"]
                    result = _unescaped(result) if isinstance(result, str) else result
                    row[j] = RawCell(result, formula, number_formats[style], formula)
                else:
                    key = (type(value), value, style)
                    found = known.get(key)
                    if found is None:
                        found = _stored(value, number_formats[style])
                        # nought and minus nought are written differently, and are equal
                        if value:
                            known[key] = found
                    row[j] = found
                    if kind == "e" and value == _ERROR and is_date_format(found.number_format):
                        undated.append((i, j))
    hidden = worksheet.sheet_state != "visible"
    filled = fill_ranges(rows, formulas, ranges)
    for i, j in filled.keys() & blank:
        rows[i][j] = replace(rows[i][j], value="")
    part = _Part(worksheet.title, hidden, xml, rows, formulas, filled, tuple(undated))
    if any(rows[i][j].value is None for i, j in formulas):
        _add_empty_results(part)
    return part


class _NumberFormats(dict[int, str]):
    """Number format of each style of a workbook: the library works it out for each cell."""

    def __init__(self, worksheet: _Streamed) -> None:
        super().__init__()
        self._worksheet = worksheet

    def __missing__(self, style: int) -> str:
        cell = ReadOnlyCell(cast("Any", self._worksheet), 1, 1, None, style_id=style)
        self[style] = str(cell.number_format)
        return self[style]


def _stored(value: Stored, number_format: str) -> RawCell:
    if isinstance(value, str):
        value = _unescaped(value)
    return RawCell(value, stored_text(value), number_format)


def _unescaped(text: str) -> str:
    """Read characters that XML cannot hold, such as ``_x000D_`` (ISO/IEC 29500-1, 22.9.2.19)."""
    return _ESCAPED.sub(lambda found: chr(int(found[1], 16)), text) if "_x" in text else text


def _formula_text(value: object) -> str:
    # A formula that fills a range is an object that holds its text.
    text = value if isinstance(value, str) else getattr(value, "text", None) or "=TABLE()"
    return text if text.startswith("=") else f"={text}"


def _add_empty_results(part: _Part) -> None:
    """Give formulas whose result is a text without letters that result: the library takes it for none."""
    for place in empty_texts(part.xml):
        row, column = (number - 1 for number in coordinate_to_tuple(place))
        if (row, column) in part.formulas and part.rows[row][column].value is None:
            part.rows[row][column] = replace(part.rows[row][column], value="")


def _finish(part: _Part, plain: PlainFormulas) -> Sheet:
    notices = []
    for (i, j), formula in part.formulas.items():
        in_cells = plain.plain(formula, (part.name.casefold(), i + 1, j + 1), part.filled.get((i, j)))
        if in_cells != formula:
            part.rows[i][j] = replace(part.rows[i][j], plain=in_cells)
    if part.hidden:
        notices.append(f"Sheet '{part.name}' is hidden; it was read all the same.")
    without = sum(part.rows[i][j].value is None for i, j in part.formulas)
    if without:
        notices.append(
            f"Sheet '{part.name}': {counted(without, 'formula has', 'formulas have')} no stored result and "
            "cannot be read; open the workbook in a spreadsheet program and save it once."
        )
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


def _mend_dates(part: _Part) -> None:
    """Give back the number of a cell that is shown as a date but is none, such as a tag in a date column."""
    for place, stored in stored_numbers(part.xml):
        row, column = coordinate_to_tuple(place)
        if (row - 1, column - 1) in part.undated:
            value = float(stored) if re.search(r"[.eE]", stored) else int(stored)
            old = part.rows[row - 1][column - 1]
            part.rows[row - 1][column - 1] = RawCell(value, stored_text(value), old.number_format)


def _merged(part: _Part) -> Iterator[tuple[int, int, int, int]]:
    """Yield merged ranges as first row, first column, last row, last column, from 0."""
    for reference in merged_ranges(part.xml):
        left, top, right, bottom = range_boundaries(reference)
        if left and top and right and bottom:
            yield top - 1, left - 1, bottom - 1, right - 1

"""Workbooks (.xlsx, .xlsm): cell by cell, formula and stored result, number format, merged ranges."""

from __future__ import annotations

import io
import re
import struct
import warnings
import zipfile
import zlib
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Protocol, cast

from lxml import etree
from openpyxl.formula.translate import TranslatorError
from openpyxl.reader.excel import ExcelReader
from openpyxl.styles.numbers import is_date_format
from openpyxl.utils.cell import coordinate_to_tuple, range_boundaries

from audit.intake.book_names import names_of_book
from audit.intake.filled_ranges import fill_ranges
from audit.intake.grid import EMPTY, RawCell, Sheet, column_letter, fill_merged, make_sheet, stored_text
from audit.intake.plain_formulas import PlainFormulas
from audit.intake.wording import counted, hidden_words
from audit.refusal import SeasonRefusal

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from pathlib import Path

    from openpyxl.workbook import Workbook

    from audit.intake.book_names import BookNames
    from audit.intake.formulas import Area

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
_ROW_NUMBER = re.compile(rb'<(?:[\w.-]+:)?row\s(?:[^>]*?\s)?r\s*=\s*["\'](\d+)["\']')
_ERROR = "#VALUE!"
_DOCUMENT_TYPE = tuple("<!DOCTYPE".encode(code) for code in ("ascii", "utf-16-le", "utf-16-be"))
#: Halves of a pair are left alone: alone they are no character.
_ESCAPED = re.compile(r"_x((?![dD][89a-fA-F])[0-9a-fA-F]{4})_")

_YES = ("1", "true")


class _StreamedCell(Protocol):
    """A cell as the library streams it; its own stubs describe a cell that is held in memory."""

    value: Any
    data_type: str
    number_format: str
    _style_id: int


class _Streamed(Protocol):
    """A sheet as the library streams it."""

    title: str
    sheet_state: str

    def reset_dimensions(self) -> None: ...

    def iter_rows(self) -> Iterable[Sequence[_StreamedCell]]: ...


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
                    if part.formulas:
                        with _results_of(reader.wb):
                            _add_results(part, worksheet)
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


@contextmanager
def _results_of(book: Workbook) -> Iterator[None]:
    """Have formulas stream their stored results: to open the file again would read styles and texts again."""
    book._data_only = True  # type: ignore[attr-defined]  # noqa: SLF001 - the library asks it when it streams
    try:
        yield
    finally:
        book._data_only = False  # type: ignore[attr-defined]  # noqa: SLF001 - as above


def _read_part(worksheet: _Streamed, xml: bytes) -> _Part:
    numbers = [int(found) for found in _ROW_NUMBER.findall(xml)]
    if any(later <= earlier for earlier, later in pairwise(numbers)):
        # the library would pass over a row that is stored behind a later one
        raise ValueError("rows are stored out of order")
    rows: list[list[RawCell]] = []
    formulas: dict[tuple[int, int], str] = {}
    ranges: dict[tuple[int, int], str] = {}
    undated: list[tuple[int, int]] = []
    # far fewer cells differ than there are
    known: dict[tuple[str, int], RawCell] = {}
    # The stored extent of a sheet is wrong often enough to lose columns.
    worksheet.reset_dimensions()
    for i, cells in enumerate(worksheet.iter_rows()):
        row: list[RawCell] = []
        for j, cell in enumerate(cells):
            value = cell.value
            if value is None or value == "":
                row.append(EMPTY)
            elif cell.data_type == "f":
                formulas[i, j] = formula = _formula_text(value)
                if reference := getattr(value, "ref", None):
                    ranges[i, j] = reference
                row.append(RawCell(None, formula, cell.number_format, formula))
            elif cell.data_type == "s":
                text = known.get((value, cell._style_id))  # noqa: SLF001 - it makes the number format each time
                if text is None:
                    typed = _unescaped(value)
                    text = RawCell(typed, typed, cell.number_format)
                    known[value, cell._style_id] = text  # noqa: SLF001 - the library names a style by it alone
                row.append(text)
            else:
                number_format = cell.number_format
                if isinstance(value, str):
                    value = _unescaped(value)
                row.append(RawCell(value, stored_text(value), number_format))
                if cell.data_type == "e" and value == _ERROR and is_date_format(number_format):
                    undated.append((i, j))
        rows.append(row)
    hidden = worksheet.sheet_state != "visible"
    filled = fill_ranges(rows, formulas, ranges)
    return _Part(worksheet.title, hidden, xml, rows, formulas, filled, tuple(undated))


def _unescaped(text: str) -> str:
    """Read characters that XML cannot hold, such as ``_x000D_`` (ISO/IEC 29500-1, 22.9.2.19)."""
    return _ESCAPED.sub(lambda found: chr(int(found[1], 16)), text) if "_x" in text else text


def _formula_text(value: object) -> str:
    # A formula that fills a range is an object that holds its text.
    text = value if isinstance(value, str) else getattr(value, "text", None) or "=TABLE()"
    return text if text.startswith("=") else f"={text}"


def _add_results(part: _Part, worksheet: _Streamed) -> None:
    """Put the stored results beside the formulas."""
    worksheet.reset_dimensions()
    in_row: dict[int, list[int]] = {}
    for i, j in part.formulas:
        in_row.setdefault(i, []).append(j)
    for i, cells in enumerate(worksheet.iter_rows()):
        for j in in_row.get(i, ()):
            result = cells[j].value if j < len(cells) else None
            formula = part.rows[i][j]
            part.rows[i][j] = RawCell(result, formula.text, formula.number_format, formula.formula)
    if any(part.rows[i][j].value is None for i, j in part.formulas):
        _add_empty_results(part)


def _add_empty_results(part: _Part) -> None:
    """Give formulas whose result is a text without letters that result: the library takes it for none."""
    for element in _elements(part.xml, "c"):
        place = element.get("r")
        if place is None or element.get("t") != "str" or element.find("{*}v") is None:
            continue
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
    fill_merged(part.rows, _merged(part.xml))
    hidden = _hidden(part.xml, max((len(row) for row in part.rows), default=0))
    if hidden:
        notices.append(f"Sheet '{part.name}' has {hidden}; they were read all the same.")
    return make_sheet(part.name, part.rows, notices)


def _mend_dates(part: _Part) -> None:
    """Give back the number of a cell that is shown as a date but is none, such as a tag in a date column."""
    for element in _elements(part.xml, "c"):
        place, stored = element.get("r"), element.findtext("{*}v")
        if place is None or stored is None or element.get("t", "n") != "n":
            continue
        row, column = coordinate_to_tuple(place)
        if (row - 1, column - 1) in part.undated:
            value = float(stored) if re.search(r"[.eE]", stored) else int(stored)
            old = part.rows[row - 1][column - 1]
            part.rows[row - 1][column - 1] = RawCell(value, stored_text(value), old.number_format)


def _merged(xml: bytes) -> Iterator[tuple[int, int, int, int]]:
    """Yield merged ranges as first row, first column, last row, last column, from 0."""
    if b"mergeCell " not in xml:
        return
    for element in _elements(xml, "mergeCell"):
        left, top, right, bottom = range_boundaries(element.get("ref", ""))
        if left and top and right and bottom:
            yield top - 1, left - 1, bottom - 1, right - 1


def _hidden(xml: bytes, width: int) -> str:
    """Say which columns and rows are hidden; a run of hidden columns beyond the last one holds nothing."""
    if b"hidden=" not in xml:
        return ""
    columns = [
        column_letter(j)
        for element in _elements(xml, "col")
        if element.get("hidden") in _YES
        for j in range(int(element.get("min", "1")) - 1, min(int(element.get("max", "1")), width))
    ]
    rows = [int(element.get("r", "0")) for element in _elements(xml, "row") if element.get("hidden") in _YES]
    return hidden_words(columns, rows)


def _elements(xml: bytes, tag: str) -> Iterator[etree._Element]:
    for _, element in etree.iterparse(
        io.BytesIO(xml), tag=f"{{*}}{tag}", resolve_entities=False, no_network=True, huge_tree=True
    ):
        yield element
        element.clear()

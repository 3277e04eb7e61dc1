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
from typing import TYPE_CHECKING, Any

from lxml import etree
from openpyxl.reader.excel import ExcelReader
from openpyxl.styles.numbers import BUILTIN_FORMATS, BUILTIN_FORMATS_MAX_SIZE
from openpyxl.styles.stylesheet import apply_stylesheet
from openpyxl.utils.datetime import from_excel, from_ISO8601
from openpyxl.xml.constants import SHARED_STRINGS

from audit.intake.book_names import names_of_book
from audit.intake.filled_ranges import fill_ranges
from audit.intake.grid import Sheet, column_letter, fill_merged, make_sheet
from audit.intake.plain_formulas import PlainFormulas
from audit.intake.sheet_part import elements, read_sheet_part, text_of
from audit.intake.wording import counted, hidden_words
from audit.refusal import SeasonRefusal

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from audit.intake.book_names import BookNames
    from audit.intake.formulas import Area
    from audit.intake.grid import Stored
    from audit.intake.sheet_part import SheetPart

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
    struct.error,
    zipfile.BadZipFile,
    zlib.error,
    etree.LxmlError,
)
_OTHER_FILE = re.compile(r"\[\d+\]|\[[^\]]+\.xls[xmb]?\]", re.IGNORECASE)
#: Halves of a pair are left alone: alone they are no character.
_ESCAPED = re.compile(r"_x((?![dD][89a-fA-F])[0-9a-fA-F]{4})_")


@dataclass(frozen=True, slots=True)
class _Part:
    """One sheet: what its part holds, and the cells of ranges that one formula fills with its results."""

    name: str
    hidden: bool
    holds: SheetPart
    filled: dict[tuple[int, int], Area]


class _Values:
    """How the cells of a workbook are stored: shared texts, styles, the day from which days are counted."""

    def __init__(self, book: Any, texts: Sequence[str]) -> None:  # noqa: ANN401 - what is private to the library
        self._texts = texts
        self._epoch = book.epoch
        self._days = book._date_formats  # noqa: SLF001 - the library has no other name for it
        self._durations = book._timedelta_formats  # noqa: SLF001 - likewise
        self._formats = [
            BUILTIN_FORMATS.get(style.numFmtId, "General")
            if style.numFmtId < BUILTIN_FORMATS_MAX_SIZE
            else book._number_formats[style.numFmtId - BUILTIN_FORMATS_MAX_SIZE]  # noqa: SLF001 - likewise
            for style in book._cell_styles  # noqa: SLF001 - likewise
        ]

    def value(self, kind: str, style: str, stored: str) -> Stored:
        """Read a stored text."""
        if kind == "n":
            return self._number(int(style), stored)
        if kind == "b":
            return bool(int(stored))
        if kind == "d":
            moment: Stored = from_ISO8601(stored)  # type: ignore[no-untyped-call]
            return moment
        return _unescaped(self._texts[int(stored)] if kind == "s" else stored)

    def _number(self, style: int, stored: str) -> Stored:
        number = float(stored) if any(sign in stored for sign in ".eE") else int(stored)
        if style not in self._days:
            return number
        try:
            moment: Stored = from_excel(number, self._epoch, timedelta=style in self._durations)
        except (OverflowError, ValueError):
            # shown as a date but none, such as a tag in a column of dates
            return number
        return moment

    def number_format(self, style: str) -> str:
        """Return the number format of a style."""
        return self._formats[int(style)]


class _Reader(ExcelReader):
    """The library's reader of a package, which reads the parts of sheets and texts more slowly."""

    def read_strings(self) -> None:
        """Read the texts that cells share."""
        table: Any = self.package.find(SHARED_STRINGS)  # type: ignore[no-untyped-call]
        if table is not None:
            xml = self.archive.read(table.PartName[1:])
            self.shared_strings = [
                # the library has it so
                text_of(element).replace("x005F_", "")
                for element in elements(xml, "{*}si")
            ]

    def read_frame(self) -> None:
        """Read all but the sheets."""
        self.read_manifest()
        self.read_strings()
        self.read_workbook()
        apply_stylesheet(self.archive, self.wb)

    def sheets(self) -> Iterator[tuple[str, bool, str]]:
        """Name the sheets of cells: name, whether it is hidden, part."""
        for sheet, tie in self.parser.find_sheets():
            if tie.target in self.valid_files and "chartsheet" not in tie.Type:
                yield sheet.name, sheet.state != "visible", tie.target


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
            sheets = list(reader.sheets())
        except _FAULTS as fault:
            raise SeasonRefusal(
                "This workbook is damaged: its parts cannot be read.",
                where=str(path),
                cure="Open it in a spreadsheet program, save it as .xlsx under a new name, and try again.",
            ) from fault
        with closing(reader.archive):
            if any("vbaProject" in name for name in reader.valid_files):
                notices.append("The workbook holds macros; they were not run.")
            plain = PlainFormulas(_names(reader))
            values = _Values(reader.wb, reader.shared_strings)
            for name, hidden, target in sheets:
                try:
                    parts.append(_read_part(name, hidden, reader, values, target))
                except _FAULTS:
                    notices.append(f"Sheet '{name}' is damaged and was not read.")
    return tuple(_finish(part, plain) for part in parts), tuple(notices)


def _names(reader: ExcelReader) -> BookNames:
    """Tables and names of the workbook."""

    def part(name: str) -> bytes | None:
        try:
            return reader.archive.read(name)
        except _FAULTS:
            return None

    return names_of_book(part, reader.parser.workbook_part_name)


def _open(path: Path) -> _Reader:
    # From bytes, since the library goes by the ending of a name and not by what the file is.
    reader = _Reader(io.BytesIO(path.read_bytes()), read_only=True, keep_links=False)
    reader.read_frame()
    return reader


def _read_part(name: str, hidden: bool, reader: _Reader, values: _Values, target: str) -> _Part:
    holds = read_sheet_part(reader.archive.read(target), values)
    filled = fill_ranges(holds.rows, holds.formulas, holds.ranges)
    for i, j in holds.empty_texts:
        if (i, j) in holds.formulas:
            holds.rows[i][j] = replace(holds.rows[i][j], value="")
    return _Part(name, hidden, holds, filled)


def _unescaped(text: str) -> str:
    """Read characters that XML cannot hold, such as ``_x000D_`` (ISO/IEC 29500-1, 22.9.2.19)."""
    return _ESCAPED.sub(lambda found: chr(int(found[1], 16)), text) if "_x" in text else text


def _finish(part: _Part, plain: PlainFormulas) -> Sheet:
    notices = []
    rows, formulas = part.holds.rows, part.holds.formulas
    for (i, j), formula in formulas.items():
        in_cells = plain.plain(formula, (part.name.casefold(), i + 1, j + 1), part.filled.get((i, j)))
        if in_cells != formula:
            rows[i][j] = replace(rows[i][j], plain=in_cells)
    if part.hidden:
        notices.append(f"Sheet '{part.name}' is hidden; it was read all the same.")
    without = sum(rows[i][j].value is None for i, j in formulas)
    if without:
        notices.append(
            f"Sheet '{part.name}': {counted(without, 'formula has', 'formulas have')} no stored result and "
            "cannot be read; open the workbook in a spreadsheet program and save it once."
        )
    if any(_OTHER_FILE.search(text) for text in formulas.values()):
        notices.append(
            f"Sheet '{part.name}' takes values from other files; they were not opened, the stored results "
            "were taken."
        )
    fill_merged(rows, part.holds.merged)
    if hidden := _hidden(part.holds):
        notices.append(f"Sheet '{part.name}' has {hidden}; they were read all the same.")
    return make_sheet(part.name, rows, notices)


def _hidden(holds: SheetPart) -> str:
    """Say which columns and rows are hidden; a run of hidden columns beyond the last one holds nothing."""
    width = max((len(row) for row in holds.rows), default=0)
    columns = [
        column_letter(j) for first, last in holds.hidden_columns for j in range(first, min(last + 1, width))
    ]
    return hidden_words(columns, holds.hidden_rows)

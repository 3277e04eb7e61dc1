"""The cells of one sheet as the library streams them: what is typed, and of formulas the stored result."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import IO, TYPE_CHECKING, Any, Protocol, cast

from openpyxl.cell.read_only import ReadOnlyCell
from openpyxl.styles.numbers import is_date_format
from openpyxl.utils.cell import coordinate_to_tuple
from openpyxl.worksheet._reader import WorkSheetParser

from audit.intake.filled_ranges import fill_ranges
from audit.intake.grid import EMPTY, RawCell, stored_text
from audit.intake.sheet_xml import empty_texts, rows_in_order

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.intake.formulas import Area
    from audit.intake.grid import Stored

__all__ = ["Part", "Streamed", "read_part"]

_ERROR = "#VALUE!"
#: Halves of a pair are left alone: alone they are no character.
_ESCAPED = re.compile(r"_x((?![dD][89a-fA-F])[0-9a-fA-F]{4})_")


class Streamed(Protocol):
    """A sheet as the library streams it."""

    title: str
    sheet_state: str
    parent: Any
    _shared_strings: Sequence[str]

    def _get_source(self) -> IO[bytes]: ...


class _Parser(WorkSheetParser):
    """The library's parser of cells; of a formula it reads the stored result in the same pass."""

    def __init__(self, source: IO[bytes], sheet: Streamed) -> None:
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
class Part:
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


def read_part(worksheet: Streamed, xml: bytes) -> Part:
    """Read the cells of one sheet.

    Parameters
    ----------
    worksheet : Streamed
        The sheet.
    xml : bytes
        The part of the file that holds it.

    Raises
    ------
    ValueError
        Rows are stored out of order; the library raises errors of its own where the sheet is damaged.
    """
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
    part = Part(worksheet.title, hidden, xml, rows, formulas, filled, tuple(undated))
    if any(rows[i][j].value is None for i, j in formulas):
        _add_empty_results(part)
    return part


class _NumberFormats(dict[int, str]):
    """Number format of each style of a workbook: the library works it out for each cell."""

    def __init__(self, worksheet: Streamed) -> None:
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


def _add_empty_results(part: Part) -> None:
    """Give formulas whose result is a text without letters that result: the library takes it for none."""
    for place in empty_texts(part.xml):
        row, column = (number - 1 for number in coordinate_to_tuple(place))
        if (row, column) in part.formulas and part.rows[row][column].value is None:
            part.rows[row][column] = replace(part.rows[row][column], value="")

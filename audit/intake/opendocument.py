"""OpenDocument spreadsheets (.ods).

Read straight from ``content.xml``: no library that we keep gives the formula, the shown text, the stored
value and the merged ranges of a cell together. Names of elements and attributes: OpenDocument 1.3, part 3,
chapters 9 and 19.
"""

from __future__ import annotations

import datetime as dt
import re
import zipfile
import zlib
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from lxml import etree

from audit.intake.filled_ranges import fill_ranges
from audit.intake.grid import EMPTY, RawCell, Sheet, column_letter, fill_merged, make_sheet, stored_text
from audit.intake.open_formula import formula_text, in_cells, names_of_document
from audit.intake.plain_formulas import PlainFormulas
from audit.intake.wording import hidden_words
from audit.refusal import SeasonRefusal

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from audit.intake.grid import Stored

__all__ = ["read_opendocument"]

_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"
_STYLE = "{urn:oasis:names:tc:opendocument:xmlns:style:1.0}"

_ROW_GROUPS = {f"{_TABLE}table-header-rows", f"{_TABLE}table-row-group", f"{_TABLE}table-rows"}
_COLUMN_GROUPS = {f"{_TABLE}table-header-columns", f"{_TABLE}table-column-group", f"{_TABLE}table-columns"}
_HIDDEN = ("collapse", "filter")
_DURATION = re.compile(
    r"^(?P<sign>-?)P(?:(?P<days>\d+)D)?(?:T(?:(?P<hours>\d+)H)?(?:(?P<minutes>\d+)M)?(?:(?P<seconds>\d+(?:[.,]\d+)?)S)?)?$"
)


class _TooLargeError(Exception):
    """A few bytes say that a cell is repeated without end."""


@dataclass(slots=True)
class _Grid:
    """What one table element holds, while it is being read."""

    rows: list[list[RawCell]] = field(default_factory=list)
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)
    hidden_rows: list[int] = field(default_factory=list)
    hidden_columns: list[str] = field(default_factory=list)
    formulas: dict[tuple[int, int], str] = field(default_factory=dict)
    ranges: dict[tuple[int, int], str] = field(default_factory=dict)
    cells: int = 0


def read_opendocument(path: Path, most_cells: int) -> tuple[tuple[Sheet, ...], tuple[str, ...]]:
    """Read all sheets of an .ods file.

    Parameters
    ----------
    most_cells : int
        A sheet that unrolls to more written cells than this is refused.

    Raises
    ------
    SeasonRefusal
        It is no spreadsheet, damaged, or too large.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            xml = archive.read("content.xml")
        parser = etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False, huge_tree=True)
        root = etree.fromstring(xml, parser)
    except (OSError, KeyError, RuntimeError, zipfile.BadZipFile, zlib.error, etree.XMLSyntaxError) as fault:
        raise SeasonRefusal(
            "This spreadsheet is damaged: its content cannot be read.",
            where=str(path),
            cure="Open it in a spreadsheet program, save it under a new name, and try again.",
        ) from fault
    unseen = _styles_not_shown(root)
    plain = PlainFormulas(names_of_document(root.find(f"{_OFFICE}body/{_OFFICE}spreadsheet")))
    sheets = []
    unread: list[str] = []
    for element in root.iterfind(f"{_OFFICE}body/{_OFFICE}spreadsheet/{_TABLE}table"):
        # A copy of another file, kept for links to it: not typed here.
        if element.find(f"{_TABLE}table-source") is not None:
            continue
        name = element.get(f"{_TABLE}name", "")
        try:
            grid = _read_table(element, most_cells)
        except _TooLargeError as fault:
            raise SeasonRefusal(
                f"Sheet '{name}' unrolls to more than {most_cells:,} cells.",
                where=str(path),
                cure="Delete the rows and columns that hold nothing but repeated cells.",
            ) from fault
        except ValueError:
            unread.append(f"Sheet '{name}' is damaged and was not read.")
            continue
        _write_plain(name, grid, plain)
        fill_merged(grid.rows, grid.merged)
        notices = []
        if element.get(f"{_TABLE}style-name") in unseen:
            notices.append(f"Sheet '{name}' is hidden; it was read all the same.")
        hidden = hidden_words(grid.hidden_columns, grid.hidden_rows)
        if hidden:
            notices.append(f"Sheet '{name}' has {hidden}; they were read all the same.")
        sheets.append(make_sheet(name, grid.rows, notices))
    return tuple(sheets), tuple(unread)


def _write_plain(name: str, grid: _Grid, plain: PlainFormulas) -> None:
    """Give the cells of a range that one formula fills that formula, and formulas without names."""
    # names of sheets that need quotes have them already
    quoted = {(i, j): cell.plain for i, j in grid.formulas if (cell := grid.rows[i][j]).plain}
    filled = fill_ranges(grid.rows, grid.formulas, grid.ranges)
    for (i, j), formula in grid.formulas.items():
        area = filled.get((i, j))
        first = (i, j) if area is None else (area.top - 1, area.left - 1)
        known = quoted.get(first, formula)
        in_cells = plain.plain(known, (name.casefold(), i + 1, j + 1), area)
        if in_cells != formula:
            grid.rows[i][j] = replace(grid.rows[i][j], plain=in_cells)


def _styles_not_shown(root: etree._Element) -> set[str]:
    return {
        style.get(f"{_STYLE}name", "")
        for style in root.iter(f"{_STYLE}style")
        for properties in style.iterfind(f"{_STYLE}table-properties")
        if properties.get(f"{_TABLE}display") == "false"
    }


def _read_table(table: etree._Element, most_cells: int) -> _Grid:
    grid = _Grid()
    hidden_columns = _hidden_columns(table)
    blank = 0
    for element in _children(table, f"{_TABLE}table-row", _ROW_GROUPS):
        repeated = int(element.get(f"{_TABLE}number-rows-repeated", "1"))
        row, spans, fills = _read_row(element, most_cells)
        if not row:
            # A sheet ends with a million blank rows: they count only when another row follows.
            blank += repeated
            continue
        grid.cells += len(row) * repeated
        if grid.cells > most_cells or len(grid.rows) + blank + repeated > most_cells:
            raise _TooLargeError
        grid.rows.extend([] for _ in range(blank))
        blank = 0
        if element.get(f"{_TABLE}visibility") in _HIDDEN:
            grid.hidden_rows.extend(range(len(grid.rows) + 1, len(grid.rows) + 1 + repeated))
        top = len(grid.rows)
        for left, width, height in spans:
            grid.merged.append((top, left, top + height - 1, left + width - 1))
        for left, width, height in fills:
            letters = column_letter(left), column_letter(left + width - 1)
            grid.ranges[top, left] = f"{letters[0]}{top + 1}:{letters[1]}{top + height}"
        for j, cell in enumerate(row):
            if cell.formula:
                grid.formulas |= {(top + i, j): cell.formula for i in range(repeated)}
        grid.rows.extend(list(row) for _ in range(repeated))
    width = max((len(row) for row in grid.rows), default=0)
    grid.hidden_columns.extend(column_letter(j) for j in hidden_columns if j < width)
    return grid


def _children(parent: etree._Element, tag: str, groups: set[str]) -> Iterator[etree._Element]:
    """Yield children of that tag, also those inside header and outline groups."""
    for child in parent:
        if child.tag == tag:
            yield child
        elif child.tag in groups:
            yield from _children(child, tag, groups)


def _hidden_columns(table: etree._Element) -> list[int]:
    hidden: list[int] = []
    at = 0
    for element in _children(table, f"{_TABLE}table-column", _COLUMN_GROUPS):
        repeated = int(element.get(f"{_TABLE}number-columns-repeated", "1"))
        if element.get(f"{_TABLE}visibility") in _HIDDEN:
            hidden.extend(range(at, at + repeated))
        at += repeated
    return hidden


def _read_row(
    element: etree._Element, most_cells: int
) -> tuple[list[RawCell], list[tuple[int, int, int]], list[tuple[int, int, int]]]:
    """Read the cells of a row as far as anything is written.

    Returns
    -------
    tuple
        The cells; merged ranges, and ranges that one formula fills, both as column, width and height.
    """
    row: list[RawCell] = []
    spans: list[tuple[int, int, int]] = []
    fills: list[tuple[int, int, int]] = []
    blank = 0
    for child in element:
        covered = child.tag == f"{_TABLE}covered-table-cell"
        if not covered and child.tag != f"{_TABLE}table-cell":
            continue
        repeated = int(child.get(f"{_TABLE}number-columns-repeated", "1"))
        cell = EMPTY if covered else _read_cell(child)
        if cell is EMPTY:
            blank += repeated
            continue
        if len(row) + blank + repeated > most_cells:
            raise _TooLargeError
        row.extend([EMPTY] * blank)
        blank = 0
        for kind, ranges in (("", spans), ("matrix-", fills)):
            width = int(child.get(f"{_TABLE}number-{kind}columns-spanned", "1"))
            height = int(child.get(f"{_TABLE}number-{kind}rows-spanned", "1"))
            if width > 1 or height > 1:
                ranges.append((len(row), width, height))
        row.extend([cell] * repeated)
    return row, spans, fills


def _read_cell(element: etree._Element) -> RawCell:
    shown = "\n".join(_paragraph(child) for child in element if child.tag == f"{_TEXT}p")
    stored = element.get(f"{_TABLE}formula", "")
    formula = formula_text(stored)
    kind = element.get(f"{_OFFICE}value-type", "")
    if not kind and not shown and not formula:
        return EMPTY
    value = _stored(element, kind, shown)
    if formula:
        plain = in_cells(stored)
        return RawCell(
            value, formula, _shown_format(value, shown), formula, plain=plain if plain != formula else ""
        )
    if value is None or value == "":
        return EMPTY
    return RawCell(value, stored_text(value), _shown_format(value, shown))


def _stored(element: etree._Element, kind: str, shown: str) -> Stored:
    """Turn the stored value of a cell into the plain type it stands for; text where it is none of them."""
    if kind in ("float", "percentage", "currency"):
        return _number(element.get(f"{_OFFICE}value", ""), shown)
    if kind == "boolean":
        return element.get(f"{_OFFICE}boolean-value") == "true"
    if kind == "date":
        return _date(element.get(f"{_OFFICE}date-value", ""), shown)
    if kind == "time":
        return _time(element.get(f"{_OFFICE}time-value", ""), shown)
    text = element.get(f"{_OFFICE}string-value", shown)
    return text or None


def _number(text: str, shown: str) -> Stored:
    try:
        return int(text) if re.fullmatch(r"[+-]?\d+", text) else float(text)
    except ValueError:
        return shown or None


def _date(text: str, shown: str) -> Stored:
    try:
        return dt.datetime.fromisoformat(text) if "T" in text else dt.date.fromisoformat(text)
    except ValueError:
        return text or shown or None


def _time(text: str, shown: str) -> Stored:
    match = _DURATION.match(text)
    if match is None:
        return text or shown or None
    length = dt.timedelta(
        days=int(match["days"] or 0),
        hours=int(match["hours"] or 0),
        minutes=int(match["minutes"] or 0),
        seconds=float((match["seconds"] or "0").replace(",", ".")),
    )
    if match["sign"] or length >= dt.timedelta(days=1):
        return -length if match["sign"] else length
    return (dt.datetime.combine(dt.date.min, dt.time()) + length).time()


def _shown_format(value: Stored, shown: str) -> str:
    """Tell the number format of a code shown with leading zeros from what is shown, not from the styles."""
    if isinstance(value, int) and shown.startswith("0") and shown.isdigit() and int(shown) == value:
        return "0" * len(shown)
    return ""


def _paragraph(element: etree._Element) -> str:
    """Text of a paragraph with its blanks, tabs and line breaks; notes and comments are not part of it."""
    parts = [element.text or ""]
    for child in element:
        if child.tag == f"{_TEXT}s":
            parts.append(" " * int(child.get(f"{_TEXT}c", "1")))
        elif child.tag == f"{_TEXT}tab":
            parts.append("\t")
        elif child.tag == f"{_TEXT}line-break":
            parts.append("\n")
        elif child.tag in (f"{_TEXT}span", f"{_TEXT}a"):
            parts.append(_paragraph(child))
        parts.append(child.tail or "")
    return "".join(parts)

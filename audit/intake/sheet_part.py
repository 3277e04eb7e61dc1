"""One sheet of a workbook file, read in one pass: its cells, its merged ranges, what is hidden in it.

References
----------
ISO/IEC 29500-1, 18.3.1 (worksheets): implied positions of rows and cells, formulas, merged and hidden ones.
"""

from __future__ import annotations

import io
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol

from lxml import etree

from audit.intake.formulas import LAST_ROW
from audit.intake.grid import EMPTY, RawCell, column_number, stored_text
from audit.intake.moved_formula import moved_formula

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.intake.grid import Stored

__all__ = ["BookValues", "SheetPart", "elements", "read_sheet_part", "text_of"]

_SPACE = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_ROW, _COLUMN, _MERGED = f"{_SPACE}row", f"{_SPACE}col", f"{_SPACE}mergeCell"
_VALUE, _FORMULA, _INLINE = f"{_SPACE}v", f"{_SPACE}f", f"{_SPACE}is"
_YES = ("1", "true")
_PLACE = re.compile(r"([A-Z]{1,3})[0-9]+", re.ASCII | re.IGNORECASE)
_RANGE = re.compile(r"\$?([A-Z]{1,3})\$?([0-9]+)(?::\$?([A-Z]{1,3})\$?([0-9]+))?", re.ASCII | re.IGNORECASE)


class BookValues(Protocol):
    """What a workbook says of all its cells."""

    def value(self, kind: str, style: str, stored: str) -> Stored:
        """Read a stored text of a kind (attribute ``t``), in a style (attribute ``s``)."""

    def number_format(self, style: str) -> str:
        """Return the number format of a style."""


@dataclass(slots=True)
class SheetPart:
    """What the part of one sheet holds.

    Attributes
    ----------
    rows : list of list of RawCell
        ``rows[i]`` is spreadsheet row ``i + 1``, its cells from column A on.
    formulas, ranges : mapping of (row, column) to str
        From 0: formulas, and what they fill with their results.
    empty_texts : list of (row, column)
        Cells that hold the empty text of a formula, which is more than nothing.
    merged : list of (first row, first column, last row, last column)
        From 0.
    hidden_columns : list of (first, last)
        From 0.
    hidden_rows : list of int
        As spreadsheet programs count them.
    """

    rows: list[list[RawCell]] = field(default_factory=list)
    formulas: dict[tuple[int, int], str] = field(default_factory=dict)
    ranges: dict[tuple[int, int], str] = field(default_factory=dict)
    empty_texts: list[tuple[int, int]] = field(default_factory=list)
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)
    hidden_columns: list[tuple[int, int]] = field(default_factory=list)
    hidden_rows: list[int] = field(default_factory=list)


def read_sheet_part(xml: bytes, values: BookValues) -> SheetPart:
    """Read the part of one sheet.

    Parameters
    ----------
    xml : bytes
        The part.
    values : BookValues
        Of the workbook.

    Raises
    ------
    ValueError, LookupError, lxml.etree.LxmlError
        The part is damaged, or declares what no part of a workbook may (ISO/IEC 29500-2: no document type).
    """
    reading = _Reading(values)
    for element in elements(xml, _ROW, _COLUMN, _MERGED):
        if element.tag == _ROW:
            reading.add_row(element)
        elif element.tag == _MERGED:
            reading.part.merged.extend(_range(element.get("ref", "")))
        elif element.get("hidden") in _YES:
            first, last = (int(element.get(end, "1")) - 1 for end in ("min", "max"))
            reading.part.hidden_columns.append((first, last))
    return reading.part


def elements(xml: bytes, *tags: str) -> Iterator[etree._Element]:
    """Yield the elements of some tags, each once it is whole; nothing is fetched or put in.

    Raises
    ------
    ValueError
        The part has a document type.
    """
    reading = etree.iterparse(
        io.BytesIO(xml),
        tag=tags,
        resolve_entities=False,
        no_network=True,
        huge_tree=True,
        remove_comments=True,
        remove_pis=True,
    )
    for _, element in reading:
        yield element
        element.clear()
        above = element.getparent()
        while above is not None and element.getprevious() is not None:
            del above[0]
    if reading.root is not None and reading.root.getroottree().docinfo.internalDTD is not None:
        raise ValueError("a part of a workbook has no document type")


def text_of(element: etree._Element) -> str:
    """Return the text of a string (``si``, ``is``): plain, or run by run; its phonetic runs are left out."""
    if len(element) == 1 and element[0].tag == f"{_SPACE}t":
        return element[0].text or ""
    plain = ""
    runs = []
    for child in element:
        name = etree.QName(child).localname
        if name == "t":
            plain = child.text or ""
        elif name == "r":
            runs += [piece.text or "" for piece in child if etree.QName(piece).localname == "t"][-1:]
    return "".join([plain, *runs])


class _Reading:
    """A part while it is read, row by row."""

    def __init__(self, values: BookValues) -> None:
        self.part = SheetPart()
        self._values = values
        self._number = 0
        # there are far fewer cells that differ than cells
        self._known: dict[tuple[str, str, str], RawCell] = {}
        self._columns: dict[str, int] = {}
        self._shared: dict[str, tuple[str, tuple[int, int]]] = {}

    def add_row(self, element: etree._Element) -> None:
        stored = element.get("r")
        self._number = self._number + 1 if stored is None else int(stored.removesuffix(".0"))
        if self._number > LAST_ROW:
            raise ValueError(f"no sheet has a row {stored}")
        if element.get("hidden") in _YES:
            self.part.hidden_rows.append(int(element.get("r", "0")))
        rows, i = self.part.rows, self._number - 1
        rows.extend([] for _ in range(len(rows), self._number))
        # of one that is told twice the first stands
        if i >= 0 and not rows[i]:
            rows[i] = self._row(element, i)

    def _row(self, element: etree._Element, i: int) -> list[RawCell]:
        row: list[RawCell] = []
        j = -1
        for child in element:
            place = child.get("r")
            j = j + 1 if place is None else self._column(place)
            if len(child) == 1 and child[0].tag == _VALUE:
                cell = self._plain(child, child[0].text, (i, j))
            else:
                cell = self._other(child, (i, j)) if len(child) else EMPTY
            if j == len(row):
                row.append(cell)
            else:
                row.extend([EMPTY] * (j + 1 - len(row)))
                row[j] = cell
        # the last cell is the one that ends a row, whatever was before it
        del row[j + 1 :]
        return row

    def _column(self, place: str) -> int:
        """Return the column of a place, from 0."""
        letters = place.rstrip("0123456789")
        known = self._columns.get(letters)
        if known is None:
            match = _PLACE.fullmatch(place)
            if match is None:
                raise ValueError(f"{place} is no place in a sheet")
            known = self._columns[letters] = column_number(match[1]) - 1
        return known

    def _plain(self, child: etree._Element, stored: str | None, at: tuple[int, int]) -> RawCell:
        """Read a cell that holds a value or nothing."""
        kind = child.get("t", "n")
        if not stored or kind == "inlineStr":
            if kind == "str":
                self.part.empty_texts.append(at)
            return EMPTY
        key = kind, child.get("s", "0"), stored
        return self._known.get(key) or self._new(*key)

    def _new(self, kind: str, style: str, stored: str) -> RawCell:
        value = self._values.value(kind, style, stored)
        empty = value is None or value == ""
        cell = EMPTY if empty else RawCell(value, stored_text(value), self._values.number_format(style))
        self._known[kind, style, stored] = cell
        return cell

    def _other(self, child: etree._Element, at: tuple[int, int]) -> RawCell:
        """Read a cell with a formula, or with a text of its own."""
        kind, style = child.get("t", "n"), child.get("s", "0")
        inline, value = child.find(_INLINE), child.find(_VALUE)
        cell = EMPTY
        if kind == "inlineStr" and inline is not None:
            text = text_of(inline)
            cell = self._new(kind, style, text) if text else EMPTY
        elif value is not None:
            cell = self._plain(child, value.text, at)
        formula = child.find(_FORMULA)
        if formula is None:
            return cell
        written, fills = self._written(formula, at)
        self.part.formulas[at] = written
        if fills:
            self.part.ranges[at] = fills
        return RawCell(cell.value, written, self._values.number_format(style), written)

    def _written(self, formula: etree._Element, at: tuple[int, int]) -> tuple[str, str]:
        """Return a formula, and the range that it fills with its results."""
        kind, text = formula.get("t"), formula.text or ""
        if kind == "dataTable":
            return "=TABLE()", formula.get("ref", "")
        if kind == "array":
            return f"={text}", formula.get("ref", "")
        if kind == "shared":
            identity = formula.get("si", "")
            if identity in self._shared:
                first, (i, j) = self._shared[identity]
                return f"={moved_formula(first, at[0] - i, at[1] - j)}", ""
            if text:
                self._shared[identity] = text, at
        return f"={text}", ""


def _range(reference: str) -> Iterator[tuple[int, int, int, int]]:
    match = _RANGE.fullmatch(reference)
    if match is None:
        return
    left, top, right, bottom = match.groups()
    yield (
        int(top) - 1,
        column_number(left) - 1,
        int(bottom or top) - 1,
        column_number(right or left) - 1,
    )

"""Cells of one worksheet part: found, or made where the file leaves them out.

References
----------
ISO/IEC 29500-1, 18.3.1 (worksheets): order of elements, implied positions of rows and cells.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from lxml import etree

from audit.handover.book.package import parse, serialise

if TYPE_CHECKING:
    from collections.abc import Iterator

    from lxml.etree import _Element as Element

__all__ = ["Address", "SheetCells", "column_letters", "split_address"]

#: (row, column), both from 1.
Address = tuple[int, int]

_ADDRESS = re.compile(r"\$?([A-Za-z]{1,3})\$?([1-9][0-9]*)")

#: Children of a worksheet that stand before ``legacyDrawing``.
_BEFORE_NOTES = (
    "sheetPr",
    "dimension",
    "sheetViews",
    "sheetFormatPr",
    "cols",
    "sheetData",
    "sheetCalcPr",
    "sheetProtection",
    "protectedRanges",
    "scenarios",
    "autoFilter",
    "sortState",
    "dataConsolidate",
    "customSheetViews",
    "mergeCells",
    "phoneticPr",
    "conditionalFormatting",
    "dataValidations",
    "hyperlinks",
    "printOptions",
    "pageMargins",
    "pageSetup",
    "headerFooter",
    "rowBreaks",
    "colBreaks",
    "customProperties",
    "cellWatches",
    "ignoredErrors",
    "smartTags",
    "drawing",
)


def split_address(text: str) -> Address | None:
    """Row and column of an address such as ``F17``; None where no column is named.

    Examples
    --------
    >>> split_address("F17"), split_address("AB3"), split_address("17")
    ((17, 6), (3, 28), None)
    """
    match = _ADDRESS.fullmatch(text)
    if match is None:
        return None
    column = 0
    for letter in match[1].upper():
        column = column * 26 + ord(letter) - ord("A") + 1
    return int(match[2]), column


def column_letters(column: int) -> str:
    """Letters of a column, counted from 1.

    Examples
    --------
    >>> column_letters(6), column_letters(28)
    ('F', 'AB')
    """
    letters = ""
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


class SheetCells:
    """A worksheet part whose cells can be given another style."""

    def __init__(self, content: bytes) -> None:
        self._root = parse(content)
        self._space = etree.QName(self._root).namespace or ""
        self._rows: dict[int, Element] = {}
        data = self._root.find(self._tag("sheetData"))
        if data is None:
            data = etree.SubElement(self._root, self._tag("sheetData"))
        self._data = data
        number = 0
        for row in data.iterfind(self._tag("row")):
            # A row or a cell without its own number follows the one before it.
            number = int(row.get("r") or number + 1)
            self._rows[number] = row
        self._covered = self._covered_cells()

    def _tag(self, name: str) -> str:
        return f"{{{self._space}}}{name}"

    def _covered_cells(self) -> list[tuple[Address, Address]]:
        ranges = []
        for merged in self._root.iterfind(f"{self._tag('mergeCells')}/{self._tag('mergeCell')}"):
            first, _, last = str(merged.get("ref")).partition(":")
            start, end = split_address(first), split_address(last)
            if start and end:
                ranges.append((start, end))
        return ranges

    def shown_at(self, address: Address) -> Address:
        """Cell that shows the content of `address`: the top left one of a merged range."""
        row, column = address
        for (top, left), (bottom, right) in self._covered:
            if top <= row <= bottom and left <= column <= right:
                return top, left
        return address

    def merged_at(self, address: Address) -> tuple[Address, Address] | None:
        """Corners of the merged range that a cell lies in; None where it lies in none."""
        row, column = address
        for (top, left), (bottom, right) in self._covered:
            if top <= row <= bottom and left <= column <= right:
                return (top, left), (bottom, right)
        return None

    def divide(self, first: Address, last: Address) -> None:
        """Make single cells of a merged range; those that it covered are empty."""
        self._covered.remove((first, last))
        for parent in self._root.iterfind(self._tag("mergeCells")):
            for merged in list(parent):
                start, _, end = str(merged.get("ref")).partition(":")
                if (split_address(start), split_address(end)) == (first, last):
                    parent.remove(merged)
            parent.set("count", str(len(parent)))
            if not len(parent):
                self._root.remove(parent)

    def every_cell(self) -> Iterator[tuple[Address, Element]]:
        """All cells that the part holds, in its order."""
        for number, row in self._rows.items():
            position = 0
            for cell in row.iterfind(self._tag("c")):
                place = split_address(cell.get("r", ""))
                position = place[1] if place else position + 1
                yield (number, position), cell

    def cell(self, address: Address) -> Element:
        """Find a cell, or make it with the style of its row or column."""
        row_number, column = address
        row = self._row(row_number)
        position = 0
        at = len(row)
        for index, cell in enumerate(row.iterfind(self._tag("c"))):
            place = split_address(cell.get("r", ""))
            position = place[1] if place else position + 1
            if position == column:
                return cell
            if position > column:
                at = index
                break
        made = etree.Element(self._tag("c"), {"r": f"{column_letters(column)}{row_number}"})
        style = self._inherited_style(row, column)
        if style:
            made.set("s", style)
        row.insert(at, made)
        row.attrib.pop("spans", "")  # an optional hint that the new cell may make untrue
        return made

    def _row(self, number: int) -> Element:
        if number not in self._rows:
            made = etree.Element(self._tag("row"), {"r": str(number)})
            later = [known for known in self._rows if known > number]
            at = self._data.index(self._rows[min(later)]) if later else len(self._data)
            self._data.insert(at, made)
            self._rows[number] = made
        return self._rows[number]

    def _inherited_style(self, row: Element, column: int) -> str:
        if row.get("customFormat") in ("1", "true"):
            return row.get("s", "")
        for col in self._root.iterfind(f"{self._tag('cols')}/{self._tag('col')}"):
            if int(col.get("min", "0")) <= column <= int(col.get("max", "0")):
                return col.get("style", "")
        return ""

    def notes_drawing(self, space: str) -> str:
        """Identity of the tie to the drawing of the notes; empty when there is none."""
        element = self._root.find(self._tag("legacyDrawing"))
        return "" if element is None else str(element.get(f"{{{space}}}id"))

    def add_notes_drawing(self, space: str, identity: str) -> None:
        """Name the drawing of the notes, at the place that the standard gives it."""
        element = etree.Element(self._tag("legacyDrawing"), {f"{{{space}}}id": identity}, nsmap={"r": space})
        at = 0
        for child in self._root.iterchildren("{*}*"):
            if etree.QName(child).localname in _BEFORE_NOTES:
                at = self._root.index(child) + 1
        self._root.insert(at, element)

    def content(self) -> bytes:
        """Return the part as changed."""
        return serialise(self._root)

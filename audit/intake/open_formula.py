"""Formulas of OpenDocument spreadsheets as other programs write them, and the names that they call.

References
----------
OpenDocument 1.3, part 4, chapter 5 (references in formulas); part 3, chapters 9 and 19
(``table:named-range``, ``table:named-expression``, ``table:formula``).
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from audit.intake.book_names import BookNames
from audit.intake.plain_formulas import quoted_sheet

if TYPE_CHECKING:
    from collections.abc import Iterator

    from lxml import etree

__all__ = ["formula_text", "in_cells", "names_of_document"]

_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_REFERENCE = re.compile(r"\[\.?\$?'?([^\]']*?)'?\.?(\$?[A-Z]+\$?\d+)(?::\.?(\$?[A-Z]+\$?\d+))?\]")
_ADDRESS = re.compile(
    r"\$?(?P<sheet>'(?:[^']|'')+'|[^'.]+)\.(?P<first>\$[A-Z]+\$\d+)(?::(?:[^:]*\.)?(?P<last>\$[A-Z]+\$\d+))?"
)


def formula_text(formula: str) -> str:
    """Write ``of:=[.K2]-[.L2]`` as ``=K2-L2``."""
    return _written(formula, quoted=False)


def in_cells(formula: str) -> str:
    """Write a formula as `formula_text` does, with names of sheets in quotes where they need them."""
    return _written(formula, quoted=True)


def _written(formula: str, *, quoted: bool) -> str:
    if not formula:
        return ""
    plain = formula.partition("=")[2]

    def reference(match: re.Match[str]) -> str:
        sheet, first, last = match.groups()
        shown = quoted_sheet(sheet) if quoted else sheet
        return (f"{shown}!" if sheet else "") + first + (f":{last}" if last else "")

    return f"={_REFERENCE.sub(reference, plain)}"


def names_of_document(spreadsheet: etree._Element | None) -> BookNames:
    """Read the names of a spreadsheet, and of its sheets.

    Parameters
    ----------
    spreadsheet : etree._Element or None
        The element that holds the sheets.
    """
    if spreadsheet is None:
        return BookNames()
    names = {("", name): text for name, text in _named(spreadsheet)}
    for table in spreadsheet.iterfind(f"{_TABLE}table"):
        sheet = table.get(f"{_TABLE}name", "").casefold()
        names |= {(sheet, name): text for name, text in _named(table)}
    return BookNames(names=names)


def _named(parent: etree._Element) -> Iterator[tuple[str, str]]:
    for element in parent.iterfind(f"{_TABLE}named-expressions/*"):
        name = element.get(f"{_TABLE}name", "").casefold()
        if element.tag == f"{_TABLE}named-range":
            match = _ADDRESS.fullmatch(element.get(f"{_TABLE}cell-range-address", ""))
            text = ""
            if match is not None:
                sheet = match["sheet"]
                sheet = sheet[1:-1].replace("''", "'") if sheet.startswith("'") else sheet
                last = f":{match['last']}" if match["last"] else ""
                text = f"{quoted_sheet(sheet)}!{match['first']}{last}"
        else:
            text = in_cells(element.get(f"{_TABLE}expression", "")).removeprefix("=")
        if name and text:
            yield name, text

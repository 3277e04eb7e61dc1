"""The sheet *changes*: every cell of the clean workbook that holds something else than was typed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from lxml import etree

from audit.handover.book.cell_notes import sheet_text
from audit.handover.book.package import parse, serialise
from audit.handover.book.sheet_cells import column_letters

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from lxml.etree import _Element as Element

    from audit.handover.book.cell_styles import CellStyles
    from audit.handover.clean.change_list import Change

__all__ = ["changes_sheet"]

#: Heading, field of `audit.handover.clean.change_list.Change` and width in characters of each column. The
#: first ones are declared in ``schemas/reading.yaml``, so that the sheet is never taken for one of handlings.
_COLUMNS: tuple[tuple[str, str, float], ...] = (
    ("changed on sheet", "sheet", 17),
    ("cell", "cell", 8),
    ("column", "column", 14),
    ("box", "box", 10),
    ("date", "date", 11),
    ("ring", "ring", 13),
    ("tag", "tag", 18),
    ("as typed", "typed", 20),
    ("now", "now", 20),
    ("how", "how", 12),
    ("who", "who", 8),
    ("when", "at", 20),
    ("why", "why", 36),
    ("looked at", "looked_at", 60),
    ("rule", "rule", 20),
    ("also", "note", 36),
)
_CELL = 2  # number of the column that leads to the cell
_SPACE = "http://www.w3.org/XML/1998/namespace"


def changes_sheet(
    changes: Sequence[Change], styles: CellStyles, sheets: Mapping[str, str], space: str, ties: str
) -> bytes:
    """Make the worksheet part.

    Parameters
    ----------
    changes : sequence of Change
        One line each, in this order.
    styles : CellStyles
        Gets the formats of this sheet.
    sheets : mapping of str to str
        Sheets of the workbook by the name that the season uses: those that a line can lead to.
    space, ties : str
        Namespaces of worksheets and of relationships in this workbook.
    """
    root = parse(f'<worksheet xmlns="{space}" xmlns:r="{ties}"/>'.encode())
    plain, head, link = styles.plain(), styles.plain(bold=True), styles.plain(underlined=True)

    def add(parent: Element, name: str, **attributes: str) -> Element:
        return etree.SubElement(parent, f"{{{space}}}{name}", attributes)

    def line(number: int, texts: Sequence[str], formats: Sequence[int]) -> None:
        row = add(data, "row", r=str(number))
        for column, (text, style) in enumerate(zip(texts, formats, strict=True), 1):
            if text:
                cell = add(row, "c", r=f"{column_letters(column)}{number}", s=str(style), t="inlineStr")
                inside = add(add(cell, "is"), "t")
                inside.set(f"{{{_SPACE}}}space", "preserve")
                inside.text = sheet_text(text)

    add(add(root, "sheetPr"), "pageSetUpPr", fitToPage="1")
    view = add(add(root, "sheetViews"), "sheetView", workbookViewId="0", showGridLines="0")
    add(view, "pane", ySplit="1", topLeftCell="A2", activePane="bottomLeft", state="frozen")
    columns = add(root, "cols")
    for number, (_, _, width) in enumerate(_COLUMNS, 1):
        add(columns, "col", min=str(number), max=str(number), width=f"{width:g}", customWidth="1")
    data = add(root, "sheetData")
    line(1, [heading for heading, _, _ in _COLUMNS], [head] * len(_COLUMNS))
    links = []
    for number, change in enumerate(changes, 2):
        formats = [plain] * len(_COLUMNS)
        if change.cell and change.sheet in sheets:
            formats[_CELL - 1] = link
            links.append((number, change))
        line(number, [str(getattr(change, field)) for _, field, _ in _COLUMNS], formats)
    add(root, "autoFilter", ref=f"A1:{column_letters(len(_COLUMNS))}{len(changes) + 1}")
    if links:
        parent = add(root, "hyperlinks")
        for number, change in links:
            quoted = sheets[change.sheet].replace("'", "''")
            reference, location = f"{column_letters(_CELL)}{number}", f"'{quoted}'!{change.cell}"
            add(parent, "hyperlink", ref=reference, location=location, display=change.cell)
    add(root, "pageMargins", left="0.4", right="0.4", top="0.5", bottom="0.5", header="0.2", footer="0.2")
    add(root, "pageSetup", orientation="landscape", fitToWidth="1", fitToHeight="0")
    return serialise(root)

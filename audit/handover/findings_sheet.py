"""The sheet *findings*: every finding, one line per suspect cell, as a worksheet part of its own."""

from __future__ import annotations

from typing import TYPE_CHECKING

from lxml import etree

from audit.charts.palette import TONES
from audit.handover.book.cell_notes import sheet_text
from audit.handover.book.package import parse, serialise
from audit.handover.book.sheet_cells import column_letters

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from lxml.etree import _Element as Element

    from audit.findings import Cell, Report
    from audit.handover.book.cell_styles import CellStyles

__all__ = ["findings_sheet"]

#: Heading and width in characters of each column.
_COLUMNS: tuple[tuple[str, float], ...] = (
    ("how grave", 11),
    ("sheet", 14),
    ("cell", 8),
    ("box", 10),
    ("date", 11),
    ("ring", 13),
    ("column", 13),
    ("as typed", 18),
    ("suggested", 18),
    ("chance that it is wrong", 11),
    ("chance that the suggestion is right", 13),
    ("message", 70),
    ("rule", 22),
    ("finding", 15),
)
_SPACE = "http://www.w3.org/XML/1998/namespace"


def findings_sheet(
    report: Report, styles: CellStyles, sheets: Mapping[str, str], space: str, ties: str
) -> bytes:
    """Make the worksheet part.

    Parameters
    ----------
    report : Report
        Every finding is listed; parts that did not run and notices follow below.
    styles : CellStyles
        Gets the formats of this sheet.
    sheets : mapping of str to str
        Sheets of the workbook by the name that the season uses: those that a line can lead to.
    space, ties : str
        Namespaces of worksheets and of relationships in this workbook.
    """
    return _SheetWriter(styles, space, ties).write(report, sheets)


class _SheetWriter:
    def __init__(self, styles: CellStyles, space: str, ties: str) -> None:
        self._space = space
        self._root = parse(f'<worksheet xmlns="{space}" xmlns:r="{ties}"/>'.encode())
        self._plain = styles.plain()
        self._head = styles.plain(bold=True)
        self._link = styles.plain(underlined=True)
        self._percent = styles.plain(percent=True)
        self._tones = {severity: styles.plain(bold=True, severity=severity) for severity in TONES}

    def _add(self, parent: Element, name: str, **attributes: str) -> Element:
        return etree.SubElement(parent, f"{{{self._space}}}{name}", attributes)

    def write(self, report: Report, sheets: Mapping[str, str]) -> bytes:
        last_column = column_letters(len(_COLUMNS))
        settings = self._add(self._root, "sheetPr")
        self._add(settings, "pageSetUpPr", fitToPage="1")
        view = self._add(
            self._add(self._root, "sheetViews"), "sheetView", workbookViewId="0", showGridLines="0"
        )
        self._add(view, "pane", ySplit="1", topLeftCell="A2", activePane="bottomLeft", state="frozen")
        columns = self._add(self._root, "cols")
        for number, (_, width) in enumerate(_COLUMNS, 1):
            self._add(columns, "col", min=str(number), max=str(number), width=f"{width:g}", customWidth="1")
        data = self._add(self._root, "sheetData")
        self._line(data, 1, [heading for heading, _ in _COLUMNS], [self._head] * len(_COLUMNS))
        links: list[tuple[str, str, str]] = []
        number = 1
        for finding in report.findings:
            for suspect in finding.suspects:
                number += 1
                cell = suspect.cell
                values = (
                    TONES[finding.severity].word,
                    cell.sheet,
                    cell.address,
                    cell.marks.box,
                    cell.marks.date,
                    cell.marks.ring,
                    cell.column or cell.field,
                    cell.observed,
                    suspect.suggested,
                    round(suspect.p_error, 4),
                    "" if suspect.p_fix is None else round(suspect.p_fix, 4),
                    finding.message,
                    finding.rule,
                    finding.identity,
                )
                formats = [self._plain] * len(_COLUMNS)
                formats[0] = self._tones[finding.severity]
                formats[9] = formats[10] = self._percent
                if cell.sheet in sheets:
                    formats[2] = self._link
                    links.append((f"C{number}", _location(cell, sheets[cell.sheet]), cell.address))
                self._line(data, number, values, formats)
        last = number
        for heading, lines in (
            ("What could not be checked", [f"{part.rule}: {part.reason}" for part in report.not_run]),
            ("How the file was read", list(report.notices)),
        ):
            if lines:
                number += 2
                self._line(data, number, [heading], [self._head], wrapped=False)
                for line in lines:
                    number += 1
                    self._line(data, number, [line], [0], wrapped=False)
        self._add(self._root, "autoFilter", ref=f"A1:{last_column}{last}")
        if links:
            parent = self._add(self._root, "hyperlinks")
            for reference, location, shown in links:
                self._add(parent, "hyperlink", ref=reference, location=location, display=shown)
        self._add(
            self._root,
            "pageMargins",
            left="0.4",
            right="0.4",
            top="0.5",
            bottom="0.5",
            header="0.2",
            footer="0.2",
        )
        self._add(self._root, "pageSetup", orientation="landscape", fitToWidth="1", fitToHeight="0")
        return serialise(self._root)

    def _line(
        self,
        data: Element,
        number: int,
        values: Sequence[str | float],
        formats: Sequence[int],
        *,
        wrapped: bool = True,
    ) -> None:
        row = self._add(data, "row", r=str(number))
        for column, (value, style) in enumerate(zip(values, formats, strict=True), 1):
            if value == "" and wrapped:
                continue
            cell = self._add(row, "c", r=f"{column_letters(column)}{number}", s=str(style))
            if isinstance(value, str):
                cell.set("t", "inlineStr")
                text = self._add(self._add(cell, "is"), "t")
                text.set(f"{{{_SPACE}}}space", "preserve")
                text.text = sheet_text(value)
            else:
                self._add(cell, "v").text = repr(value)


def _location(cell: Cell, sheet: str) -> str:
    quoted = sheet.replace("'", "''")
    return f"'{quoted}'!{cell.address if cell.column else f'A{cell.row}'}"

"""The blank sheet as a workbook: a sheet for each page, which is typed into and read back as it is."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

from audit.handover.book.cell_notes import sheet_text
from audit.intake.grid import column_letter
from audit.practice.measuring.blank import GIVEN
from audit.practice.measuring.blank_words import HOW_TO, blank_cautions, heading, lead, title

if TYPE_CHECKING:
    from pathlib import Path

    from openpyxl.cell import Cell
    from openpyxl.worksheet.worksheet import Worksheet

    from audit.practice.measuring.blank import Blank

__all__ = ["write_blank_workbook"]

_HELP = "what to do"
_REMARKS = "remarks"
_LINE = 15.0  # points, one line of text
_SIGNS = 100  # signs of the help in one line
_WIDE, _NARROW, _LONG = 34, 12, 110  # widths of columns, in digits


def write_blank_workbook(blank: Blank, path: Path) -> None:
    """Write the workbook: birds and people stand in it, what was measured is typed into the white cells."""
    import openpyxl
    from openpyxl.worksheet.properties import PageSetupProperties

    book = openpyxl.Workbook()
    _help(book.worksheets[0], blank)
    repeats = max(page.repeat for page in blank.pages)
    for page in blank.pages:
        sheet = book.create_sheet(page.observer if repeats == 1 else f"{page.observer} {page.repeat}")
        _fill(sheet, blank, [(bird, page.observer, page.repeat) for bird in page.birds])
        sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
        sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    book.active = 1
    book.save(path)


def _fill(sheet: Worksheet, blank: Blank, given: list[tuple[str, str, int]]) -> None:
    from openpyxl.styles import Border, Font, PatternFill, Protection, Side

    thin = Side(style="thin", color="FF7D8794")
    frame = Border(left=thin, right=thin, top=thin, bottom=thin)
    grey = PatternFill("solid", fgColor="FFEEF0F2")
    heads = [*GIVEN, *(heading(field) for field in blank.fields), _REMARKS]
    for column, name in enumerate(heads, 1):
        cell = _text(sheet, 1, column, name)
        cell.font, cell.fill, cell.border = Font(bold=True), grey, frame
        sheet.column_dimensions[column_letter(column - 1)].width = _WIDE if name == _REMARKS else _NARROW
    for row, (bird, who, time) in enumerate(given, 2):
        for column, told in enumerate((bird, who, str(time)), 1):
            cell = _text(sheet, row, column, told)
            cell.fill, cell.border = grey, frame
        for column in range(len(GIVEN) + 1, len(heads) + 1):
            cell = cast("Cell", sheet.cell(row, column))
            cell.border, cell.protection = frame, Protection(locked=False)
    sheet.freeze_panes = f"{column_letter(len(GIVEN))}2"
    for allowed in ("formatColumns", "formatRows", "formatCells"):
        setattr(sheet.protection, allowed, False)
    sheet.protection.enable()


def _help(sheet: Worksheet, blank: Blank) -> None:
    from openpyxl.styles import Alignment, Font

    sheet.title = _HELP
    sheet.column_dimensions["A"].width = _LONG
    steps = [f"{number}. {step}" for number, step in enumerate(HOW_TO, 1)]
    for row, told in enumerate((title(blank), lead(blank), *steps, *blank_cautions(blank)), 1):
        cell = _text(sheet, row, 1, told)
        cell.alignment, cell.font = Alignment(wrap_text=True, vertical="top"), Font(bold=row == 1)
        sheet.row_dimensions[row].height = _LINE * (1 + len(told) // _SIGNS)


def _text(sheet: Worksheet, row: int, column: int, told: str) -> Cell:
    """Write a cell of text, which no spreadsheet program turns into a number, a date or a formula."""
    cell = cast("Cell", sheet.cell(row, column))
    cell.number_format = "@"
    cell.value = sheet_text(told)
    cell.data_type = "s"
    return cell

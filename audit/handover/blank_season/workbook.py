"""The empty season as a workbook: a sheet for each table, and one that says how it is filled in."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

from audit.handover.blank_season.sheets import blank_sheets
from audit.handover.book.cell_notes import sheet_text
from audit.handover.folder import write_whole
from audit.intake.grid import column_letter
from audit.refusal import Refusal

if TYPE_CHECKING:
    from pathlib import Path

    from openpyxl.cell import Cell
    from openpyxl.worksheet.worksheet import Worksheet

    from audit.declarations import Declarations
    from audit.handover.blank_season.sheets import BlankColumn, BlankSheet

__all__ = ["BLANK_NAME", "write_blank_season"]

BLANK_NAME = "season.xlsx"
_HELP = "how to fill it in"
#: How a column is shown, so that a spreadsheet program leaves rings and tags as they were typed.
_FORMATS = {
    "code": "@",
    "string": "@",
    "date": "yyyy-mm-dd",
    "time": "hh:mm",
    "datetime": "yyyy-mm-dd hh:mm:ss",
}
_WIDTHS = {"code": 18, "datetime": 20}
_WIDTH, _REMARKS_WIDTH, _HELP_WIDTHS = 13, 40, (18, 20, 84)
_LAST_ROW = 5000  # rows that offer the values of a column: a large season
#: The first of these tells a reader of the workbook that the sheet holds no data.
_STEPS = (
    "How a season is filled in",
    "One row of the first sheet is one bird in the hand at one visit. Columns in bold are needed.",
    "Leave out what you do not have; the more there is, the more can be checked.",
    "Write gross and bag, not net alone: a bag that was not subtracted cannot be seen otherwise.",
    "Rings and tags are kept as text: no nought in front is lost, no number is rounded. Paste values only.",
    "You may rename columns, add some and change their order. Empty rows do no harm.",
    "Then: nestproof check season.xlsx --out checked. It never changes this file.",
    "Ringing needs a licence, and so may a visit to a nest of a protected bird.",
    "Your licence, the rules of your scheme and local law come first.",
    "Stop when a bird is distressed, whatever is still to be written.",
)


def write_blank_season(declared: Declarations, out: Path) -> list[Path]:
    """Write an empty workbook to type a season into.

    Parameters
    ----------
    declared : Declarations
        Their tables are the sheets.
    out : Path
        Folder for it, made when it is not there.

    Returns
    -------
    list of Path
        The file written.

    Raises
    ------
    audit.refusal.Refusal
        There is a file of this name already, or nothing can be written there.
    """
    if (out / BLANK_NAME).exists():
        raise Refusal(
            "There is a workbook of this name already; somebody may have typed into it.",
            where=str(out / BLANK_NAME),
            cure="Name another folder, or give that workbook another name.",
        )
    return write_whole({BLANK_NAME: lambda path: _write(blank_sheets(declared), path)}, out, ())


def _write(sheets: list[BlankSheet], path: Path) -> None:
    import openpyxl

    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for blank in sheets:
        _fill(book.create_sheet(blank.name), blank)
    _help(book.create_sheet(_HELP), sheets)
    book.save(path)


def _fill(sheet: Worksheet, blank: BlankSheet) -> None:
    from openpyxl.comments import Comment
    from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
    from openpyxl.worksheet.properties import PageSetupProperties

    under = Border(bottom=Side(style="thin", color="FF7D8794"))
    grey = PatternFill("solid", fgColor="FFEEF0F2")
    for place, column in enumerate(blank.columns):
        cell = _text(sheet, 1, place + 1, column.heading)
        cell.font, cell.fill, cell.border = Font(bold=column.needed), grey, under
        cell.alignment = Alignment(wrap_text=True, vertical="top")
        cell.comment = Comment(sheet_text(column.told), "nestproof")
        whole = sheet.column_dimensions[column_letter(place)]
        whole.width = _REMARKS_WIDTH if column.heading == "Remarks" else _WIDTHS.get(column.kind, _WIDTH)
        if column.kind in _FORMATS:
            whole.number_format = _FORMATS[column.kind]
        if column.values:
            _offer(sheet, column_letter(place), column)
    sheet.freeze_panes = "A2"
    sheet.print_title_rows = "1:1"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)


def _offer(sheet: Worksheet, letter: str, column: BlankColumn) -> None:
    """Let a cell offer its values; others may be typed after a warning: teams have words of their own."""
    from openpyxl.worksheet.datavalidation import DataValidation

    offered = DataValidation(
        type="list",
        formula1=f'"{",".join(column.values)}"',
        allow_blank=True,
        errorStyle="warning",
        error=sheet_text(column.told),
    )
    offered.add(f"{letter}2:{letter}{_LAST_ROW}")
    sheet.add_data_validation(offered)


def _help(sheet: Worksheet, sheets: list[BlankSheet]) -> None:
    from openpyxl.styles import Alignment, Font
    from openpyxl.worksheet.properties import PageSetupProperties

    for row, step in enumerate(_STEPS, 1):
        cell = _text(sheet, row, 1, step)
        cell.alignment, cell.font = Alignment(wrap_text=True, vertical="top"), Font(bold=row == 1)
        sheet.merge_cells(start_row=row, end_row=row, start_column=1, end_column=len(_HELP_WIDTHS))
    row = len(_STEPS) + 1
    for blank in sheets:
        row += 1
        _text(sheet, row, 1, f"{blank.name}: {blank.row}").font = Font(bold=True)
        for column in blank.columns:
            row += 1
            _text(sheet, row, 2, column.heading).font = Font(bold=column.needed)
            _text(sheet, row, 3, column.told).alignment = Alignment(wrap_text=True, vertical="top")
        row += 1
    for place, width in enumerate(_HELP_WIDTHS):
        sheet.column_dimensions[column_letter(place)].width = width
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)


def _text(sheet: Worksheet, row: int, column: int, told: str) -> Cell:
    """Write a cell of text, which no spreadsheet program turns into anything else."""
    cell = cast("Cell", sheet.cell(row, column))
    cell.value = sheet_text(told)
    cell.data_type = "s"
    return cell

"""A practice sheet as a workbook: what is wrong is typed over, and the workbook is read back."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

from audit.charts.palette import CHANGED
from audit.handover.book.cell_notes import sheet_text
from audit.intake.grid import column_letter
from audit.practice.exercise.words import CAUTION, HOW_TO, MEANINGS, WHY, heading, lead, title

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from openpyxl.cell import Cell
    from openpyxl.styles import Border
    from openpyxl.worksheet.worksheet import Worksheet

    from audit.practice.exercise.aids import Aid
    from audit.practice.exercise.exercise import Exercise

__all__ = ["CODE", "LINE", "MARKED_BY", "PAGE", "write_workbook"]

#: Name of the sheet that is marked, its first heading, and what stands before the code and before initials.
PAGE, LINE, CODE, MARKED_BY = "page", "line", "code of this sheet", "marked by"

_HELP, _TYPED = "help", "as typed"
#: Row of the headings; title and words stand above.
_TOP = 4
_HEIGHT = 15.0  # points, one line of text
_WIDE = 110  # signs of the help in one line
#: Widths of columns, in digits.
_NARROW = 11
_WIDTHS = {"date": 12, "tag": 18, "species": 16, "ring": 11, "remarks": 34}


def write_workbook(exercise: Exercise, aids: Sequence[Aid], path: Path) -> None:
    """Write the workbook: the page to mark, help, and a hidden sheet that tells what was marked."""
    import openpyxl
    from openpyxl.formatting.rule import FormulaRule
    from openpyxl.styles import Font, PatternFill
    from openpyxl.worksheet.properties import PageSetupProperties

    book = openpyxl.Workbook()
    page, aid_sheet, typed = book.worksheets[0], book.create_sheet(_HELP), book.create_sheet(_TYPED)
    page.title = PAGE
    _top(page, exercise)
    for sheet in (page, typed):
        _lines(sheet, exercise, locked=sheet is typed)
    wide, last = len(exercise.fields) + 1, _TOP + len(exercise.labels)
    changed = FormulaRule(  # type: ignore[no-untyped-call]  # the library has no types here
        formula=[f"B{_TOP + 1}<>'{_TYPED}'!B{_TOP + 1}"],
        fill=PatternFill("solid", bgColor=f"FF{CHANGED.fill[1:]}"),
        font=Font(bold=True, underline="single"),
    )
    page.conditional_formatting.add(f"B{_TOP + 1}:{column_letter(wide - 1)}{last}", changed)
    _text(page, last + 2, 1, CODE).font = Font(color="FF545E6B")
    _text(page, last + 2, 3, exercise.recipe.code).font = Font(color="FF545E6B", size=8)
    page.freeze_panes = f"B{_TOP + 1}"
    page.page_setup.orientation = "landscape"
    page.page_setup.fitToWidth, page.page_setup.fitToHeight = 1, 0
    page.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    typed.sheet_state = "hidden"
    _help(aid_sheet, exercise, aids)
    for sheet in (page, typed):
        for allowed in ("formatColumns", "formatRows", "formatCells"):
            setattr(sheet.protection, allowed, False)
        sheet.protection.enable()
    book.save(path)


def _top(page: Worksheet, exercise: Exercise) -> None:
    """Write title and words above the lines, and the cell for initials."""
    from openpyxl.styles import Alignment, Font, Protection

    _text(page, 1, 1, title(exercise)).font = Font(bold=True, size=14)
    told = f"{lead(exercise)} {HOW_TO[1]} {HOW_TO[2]} {HOW_TO[3]}"
    _text(page, 2, 1, told).alignment = Alignment(wrap_text=True, vertical="top")
    page.merge_cells(start_row=2, end_row=2, start_column=1, end_column=len(exercise.fields) + 1)
    # a merged cell does not grow with its text
    signs = _NARROW + sum(_WIDTHS.get(field, _NARROW) for field in exercise.fields)
    page.row_dimensions[2].height = _HEIGHT * (2 + len(told) // signs)
    _text(page, 3, 1, MARKED_BY).font = Font(bold=True)
    named = _text(page, 3, 3, "")
    named.border, named.protection = _frame(), Protection(locked=False)
    for j, field in enumerate(exercise.fields, 2):
        page.column_dimensions[column_letter(j - 1)].width = _WIDTHS.get(field, _NARROW)


def _lines(sheet: Worksheet, exercise: Exercise, *, locked: bool) -> None:
    """Write headings and lines as typed."""
    from openpyxl.styles import Font, PatternFill, Protection

    grey, frame = PatternFill("solid", fgColor="FFEEF0F2"), _frame()
    for j, name in enumerate((LINE, *(heading(field) for field in exercise.fields)), 1):
        cell = _text(sheet, _TOP, j, name)
        cell.font, cell.fill, cell.border = Font(bold=True), grey, frame
    for i, label in enumerate(exercise.labels, 1):
        number = _text(sheet, _TOP + i, 1, str(i))
        number.fill, number.border = grey, frame
        for j, field in enumerate(exercise.fields, 2):
            cell = _text(sheet, _TOP + i, j, exercise.typed((label, field)))
            cell.border, cell.protection = frame, Protection(locked=locked)


def _frame() -> Border:
    from openpyxl.styles import Border, Side

    thin = Side(style="thin", color="FF7D8794")
    return Border(left=thin, right=thin, top=thin, bottom=thin)


def _help(sheet: Worksheet, exercise: Exercise, aids: Sequence[Aid]) -> None:
    from openpyxl.styles import Alignment, Font

    row = 1

    def say(told: str, *, bold: bool = False) -> None:
        nonlocal row
        cell = _text(sheet, row, 1, told)
        cell.alignment, cell.font = Alignment(wrap_text=True, vertical="top"), Font(bold=bold)
        sheet.merge_cells(start_row=row, end_row=row, start_column=1, end_column=8)
        sheet.row_dimensions[row].height = _HEIGHT * (1 + len(told) // _WIDE)
        row += 1

    say(WHY)
    say("What to do", bold=True)
    for i, step in enumerate(HOW_TO, 1):
        say(f"{i}. {step}")
    say("What the columns mean", bold=True)
    for field in exercise.fields:
        if field in MEANINGS:
            say(f"{heading(field)}: {MEANINGS[field]}.")
    say(CAUTION)
    if aids:
        say("What helps", bold=True)
    for aid in aids:
        say(aid.says)
        for line in (aid.heads, *aid.rows) if aid.rows else ():
            for j, told in enumerate(line, 1):
                _text(sheet, row, j, told)
            row += 1
    for j in range(1, 9):
        sheet.column_dimensions[column_letter(j - 1)].width = 20


def _text(sheet: Worksheet, row: int, column: int, told: str) -> Cell:
    """Write a cell of text, which no spreadsheet program turns into a number, a date or a formula."""
    cell = cast("Cell", sheet.cell(row, column))
    cell.number_format = "@"
    if told:
        cell.value = sheet_text(told)
        cell.data_type = "s"
    return cell

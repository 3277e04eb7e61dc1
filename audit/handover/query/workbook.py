"""The query sheet as a workbook that is filled in and read back."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

from audit.handover.book.cell_notes import sheet_text
from audit.handover.query.words import (
    ANSWER,
    BY_WHOM,
    CAUTION,
    HOW_TO,
    IDENTITY,
    LOOKED_UP,
    MARKS,
    REMARK,
    bird_words,
    reason_words,
    title,
    typed_words,
    visit_name,
)
from audit.intake.grid import column_letter

if TYPE_CHECKING:
    from pathlib import Path

    from openpyxl.cell import Cell
    from openpyxl.worksheet.worksheet import Worksheet

    from audit.handover.query.sheet import QuerySheet
    from audit.review.questions import Question

__all__ = ["write_workbook"]

SHEET = "questions"

#: Heading and width in characters; the answers are what may be written to.
_ASKED: tuple[tuple[str, float], ...] = (
    ("no.", 5),
    ("day and box", 28),
    ("line of the page", 34),
    ("column", 12),
    ("typed", 20),
    ("question", 60),
)
_ANSWERED: tuple[tuple[str, float], ...] = (
    (ANSWER, 26),
    *((mark, 10) for mark in MARKS),
    (BY_WHOM, 8),
    (REMARK, 28),
)
_LAST: tuple[tuple[str, float], ...] = ((IDENTITY, 24),)
_HEADS = (*_ASKED, *_ANSWERED, *_LAST)
#: Rows above the headings: title, how to fill it in, who looked it up.
_TOP = 4
_LINE = 15.0  # points, one line of text
_SIGNS = 58  # signs of a question in one line of its cell
_ONE_BY_ONE = (
    f"Fill in the white cells. Write into '{ANSWER}' what the notebook says, or write yes under one of the "
    "three marks. Lines may be sorted, left open or deleted; the sheet is protected without a password."
)


def write_workbook(sheet: QuerySheet, path: Path) -> None:
    """Write the workbook: one line for each question, all cells of text."""
    import openpyxl
    from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection, Side
    from openpyxl.worksheet.datavalidation import DataValidation
    from openpyxl.worksheet.properties import PageSetupProperties

    book = openpyxl.Workbook()
    page = book.worksheets[0]
    page.title = SHEET
    bold, quiet = Font(bold=True), Font(color="FF545E6B")
    grey = PatternFill("solid", fgColor="FFEEF0F2")
    thin = Side(style="thin", color="FF7D8794")
    frame = Border(left=thin, right=thin, top=thin, bottom=thin)
    wrapped = Alignment(wrap_text=True, vertical="top")
    text(page, 1, 1, title(sheet.season)).font = Font(bold=True, size=14)
    text(page, 2, 1, f"{HOW_TO} {_ONE_BY_ONE} {CAUTION}").alignment = wrapped
    page.merge_cells(start_row=2, end_row=2, start_column=1, end_column=len(_HEADS))
    page.row_dimensions[2].height = 6 * _LINE
    text(page, 3, 1, LOOKED_UP).font = bold
    named = text(page, 3, 4, "")
    named.border, named.protection = frame, Protection(locked=False)
    first = len(_ASKED) + 1
    for number, (heading, width) in enumerate(_HEADS, 1):
        cell = text(page, _TOP, number, heading)
        cell.font, cell.border, cell.fill = bold, frame, grey
        cell.alignment = wrapped
        page.column_dimensions[cell.column_letter].width = width
    for row, question in enumerate(sheet.questions, _TOP + 1):
        for number, told in enumerate(_line(question), 1):
            cell = text(page, row, number, told)
            cell.border, cell.alignment = frame, wrapped
            if first <= number < first + len(_ANSWERED):
                cell.protection = Protection(locked=False)
            else:
                cell.fill = grey
            if number == len(_HEADS):
                cell.font = quiet
        page.row_dimensions[row].height = _LINE * max(2, 1 + len(_asked(question)) // _SIGNS)
    last = _TOP + max(len(sheet.questions), 1)
    yes = DataValidation(
        type="list",
        formula1='"yes"',
        allow_blank=True,
        showErrorMessage=True,
        errorTitle="yes, or nothing",
        error="Write yes, or leave the cell empty.",
    )
    page.add_data_validation(yes)
    marks = [column_letter(first + i) for i in range(len(MARKS))]
    yes.add(f"{marks[0]}{_TOP + 1}:{marks[-1]}{last}")
    page.auto_filter.ref = f"A{_TOP}:{column_letter(len(_HEADS) - 1)}{last}"
    page.freeze_panes = f"A{_TOP + 1}"
    for allowed in ("sort", "autoFilter", "formatColumns", "formatRows", "insertColumns", "deleteRows"):
        setattr(page.protection, allowed, False)
    page.protection.enable()
    page.print_title_rows = f"{_TOP}:{_TOP}"
    page.page_setup.orientation = "landscape"
    page.page_setup.fitToWidth, page.page_setup.fitToHeight = 1, 0
    page.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    book.save(path)


def text(page: Worksheet, row: int, column: int, told: str) -> Cell:
    """Write a cell of text, which no spreadsheet program turns into a number, a date or a formula."""
    cell = cast("Cell", page.cell(row, column))
    cell.number_format = "@"
    if told:
        cell.value = sheet_text(told)
        cell.data_type = "s"
    return cell


def _line(question: Question) -> tuple[str, ...]:
    return (
        str(question.number),
        visit_name(question.place.visit),
        f"{bird_words(question)} ({question.sheet} {question.address})",
        question.column,
        typed_words(question),
        _asked(question),
        *("" for _ in _ANSWERED),
        question.identity,
    )


def _asked(question: Question) -> str:
    reason = reason_words(question)
    return " ".join(part for part in (question.sentence, f"Look for {question.look_for}.", reason) if part)

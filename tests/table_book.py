"""A workbook whose birds stand in a spreadsheet table, with names for cells and constants."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import xlsxwriter

if TYPE_CHECKING:
    from pathlib import Path

SHEET = "Round 2026"
HEADS = ("Date", "Box", "Ring", "Gross (g)", "Bag (g)", "Net (g)", "Wing (mm)", "Fat [f] #", "Remarks")
FIRST, LAST = 4, 15  # rows of the birds; above stand a title, a blank row and the header, below the totals
#: Formulas of net, one after the other down the table.
NETS = (
    "=Birds[[#This Row],[Gross (g)]]-Birds[[#This Row],[Bag (g)]]",
    "=Birds[@[Gross (g)]]-tare",
    "=ROUND([@[Gross (g)]]-bag,1)",
    "=Birds[[#This Row],[Gross (g)]]-Birds[[#This Row],[Bag (g)]]*one",
)


def write_table_book(path: Path) -> Path:
    """Write the workbook: a table with results and totals, names, a range that one formula fills."""
    book = xlsxwriter.Workbook(path)
    sheet, sums = book.add_worksheet(SHEET), book.add_worksheet("Set up")
    day = book.add_format({"num_format": "dd.mm.yyyy"})
    book.define_name("tare", f"='{SHEET}'!$L$1")
    book.define_name("bag", "='Set up'!$A$1")
    book.define_name(f"'{SHEET}'!bag", "=22")  # goes before that of the workbook
    book.define_name("one", "=1")
    sheet.write("A1", "Sallow Levels box round 2026")
    sheet.write("L1", 22)
    columns = [{"header": head} for head in HEADS]
    columns[5] |= {"total_function": "average"}
    options = {"name": "Birds", "columns": columns, "total_row": True}
    sheet.add_table(FIRST - 2, 0, LAST, len(HEADS) - 1, options)
    for number, row in enumerate(range(FIRST - 1, LAST)):
        sheet.write_datetime(row, 0, dt.datetime(2026, 6, 1 + number // 3), day)
        sheet.write_string(row, 1, f"SL-0{number // 3 + 1}")
        sheet.write_string(row, 2, f"SV010{number:02}")
        sheet.write_number(row, 3, 300 + number)
        sheet.write_number(row, 4, 22)
        net = NETS[number % len(NETS)].replace("@[", "[#This Row],[")
        sheet.write_formula(row, 5, net, None, 278 + number)
        sheet.write_number(row, 6, 125)
        sheet.write_number(row, 7, number)
    area = f"D{FIRST}:D{LAST}-E{FIRST}:E{LAST}"
    sheet.write(2, 10, "Net again")
    sheet.write_array_formula(FIRST - 1, 10, LAST - 1, 10, f"{{={area}}}", None, 278)
    for row in range(FIRST, LAST):
        sheet.write_number(row, 10, 278 + row - FIRST + 1)
    sums.write(0, 0, 99)
    for row, (formula, result) in enumerate(
        (
            ("=AVERAGE(Birds[Net (g)])", 283.5),
            ("=SUM(Birds[[#Data],[Fat '[f'] '#]])", 66),
            ("=COUNTA(Birds[Ring])", 12),
            ("=Birds[[#Headers],[Ring]]", "Ring"),
            ("=MAX(Birds[[#All],[Gross (g)]])-tare", 289),
            ("=one*7", 7),
            (f"=SUM('{SHEET}'!K{FIRST}:K{LAST})", 3402),
        ),
        1,
    ):
        sums.write_formula(row, 0, formula, None, result)
    book.close()
    return path

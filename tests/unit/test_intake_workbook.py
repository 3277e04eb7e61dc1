"""Workbooks (.xlsx): what a cell stores and shows, as ECMA-376 files hold it, written by two libraries."""

from __future__ import annotations

import datetime as dt
import warnings
import zipfile

import openpyxl
import pytest
import xlsxwriter
from sheets import BIRDS, HEADER, workbook

from audit.declarations import load_declarations
from audit.intake.reading import read
from audit.intake.workbook import read_workbook
from audit.refusal import SeasonRefusal


def cells(path, sheet=0):
    sheets, _ = read_workbook(path)
    return sheets[sheet].rows


def test_every_kind_of_value_keeps_its_type_and_full_digits(tmp_path):
    path = tmp_path / "kinds.xlsx"
    book = xlsxwriter.Workbook(path)
    sheet = book.add_worksheet("kinds")
    values = [
        ("999000000012345", None, "999000000012345"),
        (999000000012345, None, "999000000012345"),
        (999000000012345, "0.00E+00", "999000000012345"),
        (40000012345678, "000000000000000", "40000012345678"),
        (20.5, "0.00", "20.5"),
        (1e25, None, "10000000000000000000000000"),
        (True, None, "TRUE"),
    ]
    for i, (value, number_format, _) in enumerate(values):
        style = book.add_format({"num_format": number_format}) if number_format else None
        sheet.write(i, 0, value, style)
    sheet.write_datetime(
        7, 0, dt.datetime.fromisoformat("2026-05-04"), book.add_format({"num_format": "dd.mm.yyyy"})
    )
    sheet.write_datetime(
        8,
        0,
        dt.datetime.fromisoformat("2026-05-04T09:30"),
        book.add_format({"num_format": "dd.mm.yyyy hh:mm"}),
    )
    sheet.write_datetime(9, 0, dt.time.fromisoformat("09:30"), book.add_format({"num_format": "hh:mm"}))
    sheet.write_number(10, 0, 26 / 24, book.add_format({"num_format": "[h]:mm"}))
    book.close()
    column = [row[0] for row in cells(path)]
    assert [cell.text for cell in column] == [
        *(text for _, _, text in values),
        "2026-05-04",
        "2026-05-04 09:30:00",
        "09:30",
        "26:00",
    ]
    assert column[0].value == "999000000012345"
    assert column[1].value == 999000000012345
    assert isinstance(column[1].value, int)
    assert column[3].number_format == "000000000000000"
    assert column[6].value is True
    assert column[10].value == dt.timedelta(hours=26)


def test_a_formula_is_shown_and_its_stored_result_is_taken(tmp_path):
    path = tmp_path / "formula.xlsx"
    book = xlsxwriter.Workbook(path)
    sheet = book.add_worksheet()
    sheet.write_formula("A1", "=395-22", None, 373)
    sheet.write_formula("B1", "=1/0", None, "#DIV/0!")
    sheet.write_array_formula("C1:C2", "{=A1*2}", None, 746)
    sheet.write_string("D1", "=not a formula")
    book.close()
    row = cells(path)[0]
    assert [(cell.value, cell.text, cell.formula) for cell in row] == [
        (373, "=395-22", "=395-22"),
        ("#DIV/0!", "=1/0", "=1/0"),
        (746, "=A1*2", "=A1*2"),
        ("=not a formula", "=not a formula", ""),
    ]


def test_a_formula_without_a_stored_result_is_said(tmp_path):
    book = openpyxl.Workbook()
    book.active.title = "s"
    book.active["A1"] = "=395-22"
    book.save(tmp_path / "s.xlsx")
    sheets, _ = read_workbook(tmp_path / "s.xlsx")
    assert sheets[0].rows[0][0].value is None


def test_formulas_without_a_stored_result_are_told_of_rows_of_data_alone(tmp_path):
    book = openpyxl.Workbook()
    book.active.title = "s"
    birds = [("2026-05-04", "SL-01", f"SV0100{k}", 395 + k, 22, f"=D{k + 2}-E{k + 2}") for k in range(3)]
    totals = ("Mean", None, None, "=AVERAGE(D2:D4)", "=AVERAGE(E2:E4)", None)
    for row in (("date", "box", "ring", "gross_g", "bag_g", "net_g"), *birds, totals):
        book.active.append(row)
    book.save(tmp_path / "s.xlsx")
    told = read(tmp_path / "s.xlsx", load_declarations()).notices
    assert (
        "Sheet 's': 3 formulas have no stored result and cannot be read; open the workbook in a "
        "spreadsheet program and save it once."
    ) in told
    for row in range(2, 5):
        book.active.cell(row, 6).value = 373
    book.save(tmp_path / "s.xlsx")
    told = read(tmp_path / "s.xlsx", load_declarations()).notices
    assert [one for one in told if "stored" in one or "sums" in one] == [
        "Sheet 's': row 5 holds sums or means; not data."
    ]


def test_links_to_other_files_are_not_followed_and_said(tmp_path):
    path = tmp_path / "s.xlsx"
    book = xlsxwriter.Workbook(path)
    book.add_worksheet("s").write_formula("A1", "='/elsewhere/[other.xlsx]Sheet1'!A1", None, "SV01001")
    book.close()
    sheets, _ = read_workbook(path)
    assert sheets[0].rows[0][0].value == "SV01001"
    assert sheets[0].notices == (
        "Sheet 's' takes values from other files; they were not opened, the stored results were taken.",
    )


def test_merged_cells_repeat_their_first_and_say_so(tmp_path):
    path = tmp_path / "merged.xlsx"
    book = xlsxwriter.Workbook(path)
    sheet = book.add_worksheet()
    sheet.merge_range("A1:A3", "SL-01")
    sheet.merge_range("B1:XFD1", "to the edge")
    sheet.write("C3", "x")
    book.close()
    rows = cells(path)
    assert [(row[0].text, row[0].merged) for row in rows] == [
        ("SL-01", False),
        ("SL-01", True),
        ("SL-01", True),
    ]
    assert [cell.text for cell in rows[0][1:]] == ["to the edge"] * 2
    assert [cell.text for cell in rows[2]] == ["SL-01", "", "x"]


def test_a_cell_written_in_the_last_row_makes_no_million_of_cells(tmp_path):
    path = workbook(tmp_path / "far.xlsx", {"far": [HEADER, *BIRDS]})
    book = openpyxl.load_workbook(path)
    book["far"].cell(1_048_576, 2, "stray")
    book.save(path)
    rows = cells(path)
    assert len(rows) == 1_048_576
    assert sum(len(row) for row in rows) < 30


def test_hidden_sheets_rows_and_columns_are_read_and_said(tmp_path):
    path = workbook(tmp_path / "hidden.xlsx", {"open": [HEADER, *BIRDS], "shut": [HEADER]})
    book = openpyxl.load_workbook(path)
    book["shut"].sheet_state = "hidden"
    book["open"].row_dimensions[3].hidden = True
    book["open"].column_dimensions["C"].hidden = True
    book.save(path)
    sheets, _ = read_workbook(path)
    assert sheets[0].rows[2][2].text == "SV01002"
    assert sheets[0].notices == (
        "Sheet 'open' has hidden column C and hidden row 3; they were read all the same.",
    )
    assert sheets[1].notices == ("Sheet 'shut' is hidden; it was read all the same.",)


def test_a_number_in_a_date_column_that_is_no_date_is_not_lost(tmp_path):
    path = tmp_path / "dates.xlsx"
    book = xlsxwriter.Workbook(path)
    day = book.add_format({"num_format": "dd.mm.yyyy"})
    sheet = book.add_worksheet()
    sheet.write_number(0, 0, 999000000012345, day)
    sheet.write_datetime(1, 0, dt.datetime.fromisoformat("2026-05-04"), day)
    book.close()
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        rows = cells(path)
    assert rows[0][0].value == 999000000012345
    assert rows[0][0].text == "999000000012345"
    assert rows[1][0].value == dt.datetime.fromisoformat("2026-05-04")


def test_the_1904_calendar_is_known(tmp_path):
    path = tmp_path / "mac.xlsx"
    book = xlsxwriter.Workbook(path, {"date_1904": True})
    book.add_worksheet().write_datetime(
        0, 0, dt.datetime.fromisoformat("2026-05-04"), book.add_format({"num_format": "yyyy-mm-dd"})
    )
    book.close()
    assert cells(path)[0][0].text == "2026-05-04"


def test_macros_are_left_alone_and_said(tmp_path):
    path = workbook(tmp_path / "m.xlsm", {"handlings": [HEADER, *BIRDS]})
    with zipfile.ZipFile(path, "a") as archive:
        archive.writestr("xl/vbaProject.bin", b"not run")
    sheets, notices = read_workbook(path)
    assert len(sheets[0].rows) == 4
    assert notices == ("The workbook holds macros; they were not run.",)


def test_text_in_several_styles_is_one_text(tmp_path):
    path = tmp_path / "rich.xlsx"
    book = xlsxwriter.Workbook(path)
    bold = book.add_format({"bold": True})
    book.add_worksheet().write_rich_string("A1", "SV", bold, "01001")
    book.close()
    assert cells(path)[0][0].text == "SV01001"


def test_a_comment_is_no_cell_text(tmp_path):
    path = tmp_path / "comment.xlsx"
    book = xlsxwriter.Workbook(path)
    sheet = book.add_worksheet()
    sheet.write("A1", "SV01001")
    sheet.write_comment("A1", "please check")
    sheet.write_comment("B1", "empty here")
    book.close()
    assert [cell.text for cell in cells(path)[0]] == ["SV01001"]


def test_one_damaged_sheet_does_not_take_the_others_with_it(tmp_path):
    whole = workbook(tmp_path / "whole.xlsx", {"handlings": [HEADER, *BIRDS], "visits": [["date", "box"]]})
    broken = tmp_path / "broken.xlsx"
    with zipfile.ZipFile(whole) as old, zipfile.ZipFile(broken, "w") as new:
        for part in old.infolist():
            data = old.read(part)
            if part.filename == "xl/worksheets/sheet2.xml":
                data = data[: data.index(b"<sheetData>") + 20]
            new.writestr(part.filename, data)
    sheets, notices = read_workbook(broken)
    assert [sheet.name for sheet in sheets] == ["handlings"]
    assert notices == ("Sheet 'visits' is damaged and was not read.",)


def test_a_wrong_extent_loses_no_cell(tmp_path):
    whole = workbook(tmp_path / "whole.xlsx", {"handlings": [HEADER, *BIRDS]})
    path = tmp_path / "wrong.xlsx"
    with zipfile.ZipFile(whole) as old, zipfile.ZipFile(path, "w") as new:
        for part in old.infolist():
            data = old.read(part)
            if part.filename == "xl/worksheets/sheet1.xml":
                assert b'ref="A1:E4"' in data
                data = data.replace(b'ref="A1:E4"', b'ref="A1:B2"')
            new.writestr(part.filename, data)
    assert [cell.text for cell in cells(path)[3]] == list(BIRDS[2])


def test_a_merged_range_below_the_last_row_adds_none(tmp_path):
    path = workbook(tmp_path / "merged.xlsx", {"s": [HEADER, *BIRDS]})
    book = openpyxl.load_workbook(path)
    book["s"].merge_cells("E4:E5000")
    book["s"]["A6000"].font = openpyxl.styles.Font(bold=True)
    book.save(path)
    assert len(cells(path)) == 4


def _with_sheet(path, rows, before=""):
    """Write a workbook whose only sheet holds these rows as XML."""
    openpyxl.Workbook().save(path)
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    space = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    parts["xl/worksheets/sheet1.xml"] = (
        f'{before}<worksheet xmlns="{space}"><sheetData>{rows}</sheetData></worksheet>'.encode()
    )
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return path


def test_rows_and_cells_without_a_place_follow_those_before_them(tmp_path):
    # ISO/IEC 29500-1, 18.3.1.4 and 18.3.1.73: r may be left out
    rows = (
        '<row><c><v>1</v></c><c r="C1"><v>2</v></c><c><v>3</v></c></row><row r="4"><c><v>4</v></c></row>'
        '<row><c t="inlineStr"><is><r><t>AB</t></r><r><rPr><b/></rPr><t> IP</t></r></is></c></row>'
    )
    read = cells(_with_sheet(tmp_path / "s.xlsx", rows))
    assert [[cell.value for cell in row] for row in read] == [[1, None, 2, 3], [], [], [4], ["AB IP"]]
    by_library = openpyxl.load_workbook(tmp_path / "s.xlsx").active
    assert by_library["D1"].value == 3
    assert by_library["A5"].value == "AB IP"


def test_shared_formulas_are_written_out_for_each_cell(tmp_path):
    # ISO/IEC 29500-1, 18.3.1.40
    first = '<c r="C1"><f t="shared" ref="C1:C2" si="0">A1-$B$1</f><v>373</v></c>'
    rows = f'<row r="1">{first}</row><row r="2"><c r="C2"><f t="shared" si="0"/><v>370</v></c></row>'
    read = cells(_with_sheet(tmp_path / "s.xlsx", rows))
    assert [(row[2].value, row[2].formula) for row in read] == [(373, "=A1-$B$1"), (370, "=A2-$B$1")]
    assert openpyxl.load_workbook(tmp_path / "s.xlsx").active["C2"].value == read[1][2].formula


def test_a_formula_and_its_result_are_those_that_the_library_reads_in_two_passes(tmp_path):
    """Held against openpyxl, which reads either formulas or results, cell by cell."""
    path = tmp_path / "results.xlsx"
    _with_sheet(
        path,
        '<row r="2"><c><v>0</v></c><c><f>A2+1</f><v>1</v></c><c><v>-0</v></c><c><v>1</v></c></row>'
        '<row><c t="str"><f>A2&amp;""</f><v>SL-01</v></c><c t="b"><f>A2=0</f><v>1</v></c>'
        '<c r="E3" t="e"><f>1/A2</f><v>#DIV/0!</v></c><c><f>A2*1.5</f></c><c><v>1.0</v></c></row>'
        '<row r="6"><c r="B6"><f t="shared" ref="B6:B7" si="0">A6*2</f><v>4</v></c></row>'
        '<row r="7"><c r="B7"><f t="shared" si="0"/><v>6</v></c><c><v>1</v></c></row>',
    )
    read = cells(path)
    for results in (True, False):
        sheet = openpyxl.load_workbook(path, data_only=results).worksheets[0]
        for i, row in enumerate(sheet.iter_rows(max_row=len(read))):
            for j, cell in enumerate(row):
                ours = read[i][j] if j < len(read[i]) else None
                typed = ours and (ours.formula or ours.value)
                assert repr(ours and (ours.value if results else typed)) == repr(cell.value), cell.coordinate
    assert read[2][5].formula == "=A2*1.5"
    assert read[2][5].value is None


def test_an_escaped_character_in_a_result_is_that_character(tmp_path):
    path = tmp_path / "escaped.xlsx"
    _with_sheet(path, '<row r="2"><c r="A2" t="str"><f>B2</f><v>one_x000D_two</v></c></row>')
    assert cells(path)[1][0].value == "one\rtwo"


def test_a_row_stored_behind_a_later_one_is_not_lost_in_silence(tmp_path):
    rows = '<row r="2"><c r="A2"><v>2</v></c></row><row r="1"><c r="A1"><v>1</v></c></row>'
    sheets, notices = read_workbook(_with_sheet(tmp_path / "s.xlsx", rows))
    assert sheets == ()
    assert notices == ("Sheet 'Sheet' is damaged and was not read.",)


def test_a_part_with_a_document_type_is_not_read(tmp_path):
    # ISO/IEC 29500-2: a part has no document type declaration; entities could be made to grow without end
    grown = '<!DOCTYPE worksheet [<!ENTITY a "1"><!ENTITY b "&a;&a;">]>'
    path = _with_sheet(tmp_path / "s.xlsx", '<row r="1"><c r="A1"><v>&b;</v></c></row>', grown)
    with pytest.raises(SeasonRefusal, match="This workbook is damaged"):
        read_workbook(path)


def test_a_document_type_is_refused_before_a_library_reads_it(tmp_path, monkeypatch):
    # also where no library forbids entities, as where openpyxl finds no defusedxml
    monkeypatch.setattr("audit.intake.workbook.ExcelReader", None)
    path = _with_sheet(tmp_path / "s.xlsx", "", "<!DOCTYPE worksheet>")
    with pytest.raises(SeasonRefusal, match="This workbook is damaged"):
        read_workbook(path)


def test_a_formula_that_leaves_the_sheet_damages_its_sheet_alone(tmp_path):
    first = '<c r="C5"><f t="shared" ref="C1:C5" si="0">A1</f><v>1</v></c>'
    rows = f'<row r="5">{first}</row><row r="6"><c r="A6"><f t="shared" si="0"/><v>1</v></c></row>'
    sheets, notices = read_workbook(_with_sheet(tmp_path / "s.xlsx", rows))
    assert sheets == ()
    assert notices == ("Sheet 'Sheet' is damaged and was not read.",)

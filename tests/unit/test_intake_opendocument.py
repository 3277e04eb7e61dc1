"""OpenDocument spreadsheets, written by odfpy; OpenDocument 1.3 part 3 says what a cell may hold."""

from __future__ import annotations

import datetime as dt
import zipfile

import pytest
from sheets import opendocument

from audit.intake.opendocument import read_opendocument
from audit.refusal import SeasonRefusal

MOST = 100_000


def rows_of(tmp_path, rows):
    path = opendocument(tmp_path / "s.ods", {"s": rows})
    sheets, _ = read_opendocument(path, MOST)
    return sheets[0].rows


TEXT = "<table:table-cell office:value-type='string'><text:p>{}</text:p></table:table-cell>"
ROW = "<table:table-row>{}</table:table-row>"
TABLE = '<table:table table:name="s">{}</table:table>'


def content(tmp_path, table: str, styles: str = ""):
    """An .ods file with this table element, for what odfpy does not write."""
    path = tmp_path / "s.ods"
    names = "urn:oasis:names:tc:opendocument:xmlns"
    xml = (
        f'<office:document-content xmlns:office="{names}:office:1.0" xmlns:table="{names}:table:1.0" '
        f'xmlns:text="{names}:text:1.0" xmlns:style="{names}:style:1.0">'
        f"<office:automatic-styles>{styles}</office:automatic-styles>"
        f"<office:body><office:spreadsheet>{table}</office:spreadsheet></office:body></office:document-content>"
    )
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", xml)
    return path


def test_every_kind_of_value_keeps_its_type_and_full_digits(tmp_path):
    rows = rows_of(
        tmp_path,
        [
            ["999000000012345", 999000000012345, 20.5, True, dt.date(2026, 5, 4)],
            [
                ({"valuetype": "time", "timevalue": "PT09H30M00S"}, "09:30"),
                ({"valuetype": "time", "timevalue": "PT26H00M00S"}, "26:00"),
                ({"valuetype": "date", "datevalue": "2026-05-04T09:30:00"}, "04.05.26 09:30"),
                ({"valuetype": "float", "value": "40000012345678"}, "040000012345678"),
                ({"valuetype": "currency", "value": "395"}, "395 g"),
            ],
        ],
    )
    assert [cell.text for cell in rows[0]] == [
        "999000000012345",
        "999000000012345",
        "20.5",
        "TRUE",
        "2026-05-04",
    ]
    assert rows[0][0].value == "999000000012345"
    assert isinstance(rows[0][1].value, int)
    assert [cell.text for cell in rows[1]] == [
        "09:30",
        "26:00",
        "2026-05-04 09:30:00",
        "40000012345678",
        "395",
    ]
    assert rows[1][1].value == dt.timedelta(hours=26)
    assert rows[1][3].number_format == "000000000000000"


def test_a_formula_is_shown_and_its_stored_result_is_taken(tmp_path):
    formula = {"valuetype": "float", "value": "373", "formula": "of:=[.K2]-[.L2]"}
    summed = {"valuetype": "float", "value": "1", "formula": "of:=SUM([.A1:.A9];[$other.$B$2])"}
    rows = rows_of(tmp_path, [[(formula, "373"), (summed, "1")]])
    assert (rows[0][0].value, rows[0][0].text) == (373, "=K2-L2")
    assert rows[0][1].formula == "=SUM(A1:A9;other!$B$2)"


def test_merged_cells_repeat_their_first_and_say_so(tmp_path):
    box = {"valuetype": "string", "numberrowsspanned": 2, "numbercolumnsspanned": 1}
    rows = rows_of(tmp_path, [[(box, "SL-01"), "SV01001"], [..., "SV01002"]])
    assert [(row[0].text, row[0].merged) for row in rows] == [("SL-01", False), ("SL-01", True)]


def test_a_million_blank_rows_and_columns_cost_nothing(tmp_path):
    blank = "<table:table-row table:number-rows-repeated='{}'>{}</table:table-row>"
    cells = '<table:table-cell table:number-columns-repeated="16384"/>'
    rows = (
        ROW.format(TEXT.format("ring") + cells)
        + blank.format(3, cells)
        + ROW.format(TEXT.format("SV01001"))
        + blank.format(1_048_571, cells)
    )
    sheets, _ = read_opendocument(content(tmp_path, TABLE.format(rows)), MOST)
    assert [[cell.text for cell in row] for row in sheets[0].rows] == [["ring"], [], [], [], ["SV01001"]]


def test_repeated_written_cells_are_unrolled_up_to_a_limit(tmp_path):
    row = (
        "<table:table-row table:number-rows-repeated='{}'><table:table-cell office:value-type='float' "
        "table:number-columns-repeated='{}' office:value='1'/></table:table-row>"
    )
    sheets, _ = read_opendocument(content(tmp_path, TABLE.format(row.format(3, 2))), MOST)
    assert [[c.value for c in row] for row in sheets[0].rows] == [[1, 1]] * 3
    for rows, columns in ((1_000_000, 1_000), (1, 10**12), (10**12, 1)):
        with pytest.raises(SeasonRefusal, match=r"Sheet 's' unrolls to more than 100,000 cells"):
            read_opendocument(content(tmp_path, TABLE.format(row.format(rows, columns))), MOST)


def test_a_damaged_sheet_does_not_take_the_others_with_it(tmp_path):
    odd = "<table:table-row table:number-rows-repeated='many'>" + TEXT.format("x") + "</table:table-row>"
    whole = TABLE.format(ROW.format(TEXT.format("ring")))
    sheets, notices = read_opendocument(content(tmp_path, TABLE.format(odd) + whole), MOST)
    assert len(sheets) == 1
    assert notices == ("Sheet 's' is damaged and was not read.",)


def test_notes_are_no_text_and_blanks_are_kept(tmp_path):
    note = "<office:annotation><text:p>please check</text:p></office:annotation>"
    blanks = '<text:p>SL<text:s text:c="2"/><text:span>01</text:span><text:line-break/>old</text:p>'
    cell = (
        f'<table:table-cell office:value-type="string">{note}{blanks}<text:p>box</text:p></table:table-cell>'
    )
    sheets, _ = read_opendocument(content(tmp_path, TABLE.format(ROW.format(cell))), MOST)
    assert sheets[0].rows[0][0].text == "SL  01\nold\nbox"


def test_hidden_sheets_rows_and_columns_are_read_and_said(tmp_path):
    columns = '<table:table-column/><table:table-column table:visibility="collapse"/>'
    head = ROW.format(TEXT.format("a") + TEXT.format("b"))
    head = f"<table:table-header-rows>{head}</table:table-header-rows>"
    shut = f"<table:table-row table:visibility='filter'>{TEXT.format('c')}</table:table-row>"
    table = f'<table:table table:name="s" table:style-name="shut">{columns}{head}{shut}</table:table>'
    style = '<style:style style:name="shut"><style:table-properties table:display="false"/></style:style>'
    sheets, _ = read_opendocument(content(tmp_path, table, style), MOST)
    assert [[cell.text for cell in row] for row in sheets[0].rows] == [["a", "b"], ["c"]]
    assert sheets[0].notices == (
        "Sheet 's' is hidden; it was read all the same.",
        "Sheet 's' has hidden column B and hidden row 2; they were read all the same.",
    )


def test_entities_are_not_resolved(tmp_path):
    secret = tmp_path / "secret.txt"
    secret.write_text("not for the sheet")
    path = tmp_path / "s.ods"
    content(tmp_path, TABLE.format(ROW.format(TEXT.format("ENTITY x"))))
    with zipfile.ZipFile(path) as archive:
        xml = archive.read("content.xml").decode().replace("ENTITY", "&e;")
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("content.xml", f'<!DOCTYPE x [<!ENTITY e SYSTEM "{secret.as_uri()}">]>{xml}')
    sheets, _ = read_opendocument(path, MOST)
    assert "not for the sheet" not in sheets[0].rows[0][0].text


def test_the_copy_of_a_linked_file_is_no_sheet(tmp_path):
    source = "<table:table-source/>" + ROW.format(TEXT.format("elsewhere"))
    linked = f"<table:table table:name=\"'file:///other.ods'#$s\">{source}</table:table>"
    path = content(tmp_path, TABLE.format(ROW.format(TEXT.format("ring"))) + linked)
    sheets, _ = read_opendocument(path, MOST)
    assert [sheet.name for sheet in sheets] == ["s"]

"""An empty workbook that is typed into and read back."""

from __future__ import annotations

import datetime as dt

import openpyxl
import pytest

from audit.cli import main
from audit.declarations import load_declarations
from audit.handover.blank_season.sheets import blank_sheets
from audit.intake import read

DECLARED = load_declarations()


@pytest.fixture(scope="module")
def blank(tmp_path_factory):
    folder = tmp_path_factory.mktemp("blank") / "mine"
    assert main(["blank", "--out", str(folder)]) == 0
    return folder / "season.xlsx"


def test_every_heading_is_read_as_its_own_column(blank, tmp_path):
    book = openpyxl.load_workbook(blank)
    for sheet in blank_sheets(DECLARED):
        for place, column in enumerate(sheet.columns, 1):
            values = {"date": dt.date(2026, 6, 3), "time": dt.time(9, 30), "number": 7, "integer": 2}
            values |= {"datetime": dt.datetime(2026, 6, 3, 9, 30)}
            typed = column.values[0] if column.values else values.get(column.kind, "SV01001")
            book[sheet.name].cell(2, place, typed)
    book.save(tmp_path / "typed.xlsx")
    season = read(tmp_path / "typed.xlsx", DECLARED)
    assert season.notices == ()
    for sheet in blank_sheets(DECLARED):
        table = DECLARED.tables[sheet.name.lower().replace(" ", "_")]
        frame = season.frame(table.name)
        assert list(frame.columns) == list(table.names)
        assert frame.notna().all(axis=None)


def test_rings_and_tags_are_kept_as_text(blank):
    sheet = openpyxl.load_workbook(blank)["Handlings"]
    letters = {str(cell.value): cell.column_letter for cell in sheet[1]}
    formats = {head: sheet.column_dimensions[letters[head]].number_format for head in ("Ring", "Tag", "Date")}
    assert formats == {"Ring": "@", "Tag": "@", "Date": "yyyy-mm-dd"}
    assert [cell.value for cell in sheet[1] if cell.font.b] == ["Date", "Box", "Ring"]
    assert "One of: L, R." in sheet[f"{letters['Ring leg']}1"].comment.text


def test_an_empty_workbook_is_read_without_a_word_about_its_help(blank):
    notices = read(blank, DECLARED).notices
    assert [notice for notice in notices if "fill" in notice] == []


def test_what_somebody_typed_is_not_written_over(blank, capsys):
    before = blank.read_bytes()
    assert main(["blank", "--out", str(blank.parent)]) == 2
    assert "somebody may have typed into it" in capsys.readouterr().err
    assert blank.read_bytes() == before

"""The clean workbook: the team's own layout with what was decided, all else as it was."""

from __future__ import annotations

import datetime as dt
import hashlib
import zipfile

import openpyxl
import pandas as pd
import pytest
import python_calamine
from decided_book import FIRST, LAST, SHEET, at, decided, declared, true_texts, write_book
from hypothesis import example, given, settings
from hypothesis import strategies as st
from lxml import etree
from openpyxl.cell.cell import MergedCell
from sheets import BIRDS, HEADER, opendocument, text_file

from audit.charts.palette import CHANGED
from audit.checking import read_season
from audit.demo import demo_season
from audit.handover.book.sheet_cells import split_address
from audit.handover.clean.clean_workbook import clean_workbook_part
from audit.refusal import SeasonRefusal

MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"

DECISIONS = {
    (at(3), "date"): "12.06.2026",
    (at(3), "time"): "21:45",
    (at(3), "gross_g"): "401.5",
    (at(4), "net_g"): "290",  # the first of three cells that share a formula
    (at(5), "ring"): "0012345",
    (at(5), "tag"): "999000000123999",
    (at(6), "gross_g"): "",
    (at(7), "wing_mm"): "13.25",  # in cm, as the header says
    (at(8), "Fat"): "3,25",
    (at(9), "Sheet no"): "77",
    (at(10), "box"): "SL-09",  # one of three merged rows
    (at(12), "box"): "SL-08",
    (at(13), "box"): "SL-08",
    (at(14), "box"): "SL-08",
    (at(11), "remarks"): "=cmd|'/c calc'!A1",
    (at(12), "remarks"): "+1",
    (at(13), "remarks"): "-x",
    (at(14), "remarks"): "@SUM(A1)",
}
#: Cells of the sheet that hold something else than before: those decided, and those of the merged ranges.
EXPECTED = {
    "A3": dt.datetime(2026, 6, 12),
    "B3": dt.time(21, 45),
    "F3": 401.5,
    "H4": 290,
    "D5": "0012345",
    "E5": "999000000123999",
    "F6": None,
    "I7": 13.25,
    "J8": "3,25",
    "K9": 77,
    "C10": "SL-09",
    "C11": "SL-03",
    "C12": "SL-08",
    "L11": "=cmd|'/c calc'!A1",
    "L12": "+1",
    "L13": "-x",
    "L14": "@SUM(A1)",
}
#: Results of formulas that depend on them; None where this program cannot work them out.
RESULTS = {"H3": 379.5, "H6": -22}


def written(part, folder):
    (name, write), *others = part.files.items()
    assert not others
    write(folder / name)
    return folder / name


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("clean")
    source = write_book(folder / "round.xlsx")
    season = decided(source, DECISIONS)
    part = clean_workbook_part(season)
    return source, written(part, folder), season, part


def cells_of(path, sheet=SHEET, **how):
    book = openpyxl.load_workbook(path, **how)
    return {cell.coordinate: cell for row in book[sheet].iter_rows() for cell in row}


def test_decided_cells_hold_what_was_decided_and_no_other_cell_changes(made):
    source, clean, _, _ = made
    before, after = cells_of(source), cells_of(clean)
    assert before.keys() == after.keys()
    for place, cell in after.items():
        if place in EXPECTED:
            assert cell.value == EXPECTED[place], place
            assert not (isinstance(cell.value, str) and cell.data_type == "f"), place
        elif isinstance(cell, MergedCell):
            assert cell.value is None  # the library frames it like the first of its range
        else:
            assert cell.value == before[place].value, place
            assert cell.has_style == before[place].has_style
            for name in ("font", "fill", "border", "alignment", "protection"):
                assert repr(getattr(cell, name)) == repr(getattr(before[place], name)), place
        if place != "C11":
            assert cell.number_format == before[place].number_format, place


def test_changed_cells_are_marked_and_noted(made):
    _, clean, _, _ = made
    cells = cells_of(clean)
    for place in EXPECTED.keys() - {"C11"}:
        assert cells[place].fill.fgColor.rgb == f"FF{CHANGED.fill[1:].upper()}", place
        assert cells[place].border.left.style == CHANGED.border
        told = cells[place].comment.text
        assert "2026-09-01T10:00:00+02:00" in told
        assert "AB" in told
        assert "as in the field notebook" in told
    assert "typed '300', now '401.5'" in cells["F3"].comment.text
    assert "typed '303', now nothing" in cells["F6"].comment.text
    assert "takes the place of the formula =F4-G4" in cells["H4"].comment.text
    assert "as read twice" in cells["F4"].comment.text
    for place in ("L11", "L12", "L13", "L14"):
        assert cells[place].quotePrefix, place  # stays text when somebody edits it


def test_no_stored_result_is_an_old_one(made):
    source, clean, _, _ = made
    before, after = cells_of(source, data_only=True), cells_of(clean, data_only=True)
    for place, cell in after.items():
        wanted = EXPECTED.get(place, RESULTS.get(place, before[place].value))
        assert cell.value == wanted, place
    book = openpyxl.load_workbook(clean, data_only=True)
    nets = [cell.value for cell in book[SHEET]["H"][FIRST - 1 : LAST]]
    sums = [cell.value for cell in book["Sums"]["B"]]
    mean = sum(nets) / len(nets)
    assert sums == [pytest.approx(mean), None, pytest.approx(2 * mean), None, 42]
    assert openpyxl.load_workbook(clean).calculation.fullCalcOnLoad


def test_two_other_readers_see_the_same(made):
    _, clean, _, _ = made
    sheet = python_calamine.CalamineWorkbook.from_path(clean).get_sheet_by_name(SHEET)
    rows = sheet.to_python(skip_empty_area=False)
    frame = pd.read_excel(clean, sheet_name=SHEET, header=None, engine="openpyxl")
    for place, value in (EXPECTED | RESULTS).items():
        row, column = split_address(place)
        seen, other = rows[row - 1][column - 1], frame.iloc[row - 1, column - 1]
        if value is None:
            assert seen == ""
            assert pd.isna(other)
        elif place == "A3":
            assert seen == value.date()
            assert other == value
        else:
            assert seen == value, place
            assert other == value, place
    for text in (rows[4][3], rows[4][4]):
        assert isinstance(text, str)  # a ring and a tag are no floats


def test_every_part_that_needs_no_change_is_copied_byte_for_byte(made):
    source, clean, _, _ = made
    may_change = {
        "[Content_Types].xml",
        "xl/workbook.xml",
        "xl/_rels/workbook.xml.rels",
        "xl/styles.xml",
        "xl/worksheets/sheet1.xml",
        "xl/worksheets/sheet2.xml",
        "xl/comments1.xml",
        "xl/drawings/vmlDrawing1.vml",
        "xl/calcChain.xml",
    }
    with zipfile.ZipFile(source) as before, zipfile.ZipFile(clean) as after:
        assert after.testzip() is None
        for name in set(before.namelist()) - may_change:
            assert before.read(name) == after.read(name), name
        assert set(before.namelist()) - set(after.namelist()) == {"xl/calcChain.xml"}
        assert set(after.namelist()) - set(before.namelist()) == {"xl/worksheets/sheet3.xml"}
        assert b"calcChain" not in after.read("[Content_Types].xml") + after.read(
            "xl/_rels/workbook.xml.rels"
        )
        root = etree.fromstring(after.read("xl/worksheets/sheet1.xml"))
        first = etree.fromstring(before.read("xl/worksheets/sheet1.xml"))
    kept = [one for one in root if etree.QName(one).localname not in ("sheetData", "mergeCells")]
    assert [etree.tostring(one) for one in kept] == [
        etree.tostring(one) for one in first if etree.QName(one).localname not in ("sheetData", "mergeCells")
    ]


def test_cells_that_shared_a_formula_keep_it(made):
    _, clean, _, _ = made
    cells = cells_of(clean)
    assert [cells[f"H{row}"].value for row in (5, 6)] == ["=F5-G5", "=F6-G6"]
    with zipfile.ZipFile(clean) as book:
        assert b'si="0"' not in book.read("xl/worksheets/sheet1.xml")


def test_a_merged_range_is_divided_only_when_its_rows_differ(made):
    _, clean, _, part = made
    sheet = openpyxl.load_workbook(clean)[SHEET]
    assert sorted(map(str, sheet.merged_cells.ranges)) == ["C12:C14", "C3:C5", "C6:C8"]
    assert [sheet[f"C{row}"].value for row in range(9, 15)] == [
        "SL-03",
        "SL-09",
        "SL-03",
        "SL-08",
        None,
        None,
    ]
    assert "divided" in sheet["C10"].comment.text
    assert part.told == ()


def test_the_last_sheet_lists_all_changes(made):
    _, clean, _, _ = made
    book = openpyxl.load_workbook(clean)
    assert book.sheetnames == [SHEET, "Sums", "changes"]
    rows = list(book["changes"].iter_rows(values_only=True))
    assert rows[0][:3] == ("changed on sheet", "cell", "column")
    listed = [row[1] for row in rows[1:]]
    assert sorted(listed) == sorted([*(set(EXPECTED) - {"C11"}), "C13", "C14", *RESULTS])
    link = book["changes"]["B2"].hyperlink
    assert link.location == f"'{SHEET}'!{listed[0]}"


def same(one, other):
    assert list(one.tables) == list(other.tables)
    for name, table in one.tables.items():
        pd.testing.assert_frame_equal(table.frame, other.frame(name))
        own = [column for column in table.typed if column not in table.frame]
        pd.testing.assert_frame_equal(table.typed[own], other.tables[name].typed[own])


def test_read_again_it_is_the_clean_season(made):
    _, clean, season, _ = made
    same(read_season(clean, schemas=declared()), season.clean)


def test_the_source_stays_and_the_same_decisions_give_the_same_bytes(made, tmp_path):
    source, clean, season, _ = made
    before = hashlib.sha256(source.read_bytes()).hexdigest()
    again = written(clean_workbook_part(season), tmp_path)
    assert again.read_bytes() == clean.read_bytes()
    assert hashlib.sha256(source.read_bytes()).hexdigest() == before


def test_days_are_counted_in_the_system_of_the_workbook(tmp_path):
    source = write_book(tmp_path / "round.xlsx", date_1904=True)
    season = decided(source, {(at(3), "date"): "2026-06-12", (at(4), "date"): "31.6.2026"})
    clean = written(clean_workbook_part(season), tmp_path)
    book = openpyxl.load_workbook(clean)
    assert book.epoch == openpyxl.utils.datetime.MAC_EPOCH
    assert [book[SHEET][f"A{row}"].value for row in (3, 4, 5)] == [
        dt.datetime(2026, 6, 12),
        "31.6.2026",
        dt.datetime(2026, 6, 1),
    ]
    assert book[SHEET]["A3"].number_format == "dd.mm.yyyy"
    with zipfile.ZipFile(clean) as parts:
        root = etree.fromstring(parts.read("xl/worksheets/sheet1.xml"))
    # 12 June 2026 is day 46,185 of the system of 1900; the other one begins 1,462 days later
    assert root.findtext(f".//{MAIN}c[@r='A3']/{MAIN}v") == str(46_185 - 1_462)
    same(read_season(clean, schemas=declared()), season.clean)


def test_a_text_longer_than_a_cell_is_cut_and_said(tmp_path):
    source = write_book(tmp_path / "round.xlsx")
    season = decided(source, {(at(3), "remarks"): "ä" * 40_000})
    part = clean_workbook_part(season)
    cell = cells_of(written(part, tmp_path))["L3"]
    assert cell.value == "ä" * 32_767
    (told,) = part.told
    assert told.startswith(f"The text of {SHEET} L3 is longer than a cell can hold and was cut to 32,767")


def test_macros_are_kept(tmp_path):
    source = write_book(tmp_path / "round.xlsx")
    macros = source.rename(tmp_path / "round.xlsm")
    with zipfile.ZipFile(macros, "a") as book:
        book.writestr("xl/vbaProject.bin", b"macros")
    clean = written(clean_workbook_part(decided(macros, {(at(3), "gross_g"): "401"})), tmp_path)
    assert clean.name == "round.clean.xlsm"
    with zipfile.ZipFile(clean) as book:
        assert book.read("xl/vbaProject.bin") == b"macros"


def test_nothing_decided_changes_no_sheet(tmp_path):
    source = write_book(tmp_path / "round.xlsx")
    clean = written(clean_workbook_part(decided(source, {(at(3), "gross_g"): None})), tmp_path)
    with zipfile.ZipFile(source) as before, zipfile.ZipFile(clean) as after:
        for name in ("xl/worksheets/sheet1.xml", "xl/worksheets/sheet2.xml", "xl/calcChain.xml"):
            assert before.read(name) == after.read(name)


def test_a_workbook_that_was_changed_since_is_refused(tmp_path):
    source = write_book(tmp_path / "round.xlsx")
    season = decided(source, {(at(3), "gross_g"): "401"})
    write_book(source, shared=False)
    with pytest.raises(SeasonRefusal, match="changed after it had been read"):
        clean_workbook_part(season)


def test_other_sources_become_a_fresh_workbook(tmp_path):
    birds = [(*bird[:3], float(bird[3]), bird[4]) for bird in BIRDS]
    sources = {
        "ods": opendocument(tmp_path / "round.ods", {"handlings": [HEADER, *birds]}),
        "csv": text_file(tmp_path / "round.csv", [HEADER, *BIRDS]),
        "frames": {"handlings": pd.DataFrame(BIRDS, columns=HEADER)},
    }
    folder = tmp_path / "files"
    folder.mkdir()
    text_file(folder / "handlings.csv", [HEADER, *BIRDS], delimiter=";")
    for name, source in {**sources, "folder": folder}.items():
        sheet = "round" if name == "csv" else "handlings"
        texts = {
            (at(2, sheet), "wing_mm"): "202.5",
            (at(3, sheet), "ring"): "SV09999",
            (at(4, sheet), "remarks"): "=1+1",
        }
        season = decided(source, texts)
        (tmp_path / name).mkdir()
        clean = written(clean_workbook_part(season), tmp_path / name)
        assert clean.name.endswith(".clean.xlsx")
        cells = cells_of(clean, sheet)
        assert str(cells["D2"].value) == "202.5"
        assert cells["C3"].value == "SV09999"
        assert (cells["E4"].value, cells["E4"].data_type) == ("=1+1", "s")
        assert "now '202.5'" in cells["D2"].comment.text
        same(read_season(clean, schemas=declared()), season.clean)


def test_the_demo_season_with_every_slip_set_right(tmp_path):
    path, schemas = demo_season()
    before = hashlib.sha256(path.read_bytes()).hexdigest()
    season = read_season(path, schemas=schemas)
    done = decided(path, true_texts(), season=season)
    part = clean_workbook_part(done)
    clean = written(part, tmp_path)
    assert part.told == ()
    again = read_season(clean, schemas=schemas)
    for name, table in done.clean.tables.items():
        pd.testing.assert_frame_equal(table.frame, again.frame(name))
    assert hashlib.sha256(path.read_bytes()).hexdigest() == before


FIELDS = {
    "date": ["", "12.06.2026", "2026-06-12", "31.2.2026", "5 June", "46185", "13/5/2026"],
    "time": ["", "21:45", "9.30", "25:10", "noon"],
    "box": ["", "SL-09", "SL-01", "7"],
    "ring": ["", "SV01099", "0012345", "1.23E+05"],
    "tag": ["", "999000000123999", "000000000000012", "9,99E+14"],
    "gross_g": ["", "401", "401.5", "401,5", "0.4 kg", "22+300", "about 300", "1e9", "-5"],
    "bag_g": ["", "22", "22 g", "?"],
    "net_g": ["", "290", "=F3-G3", "290?"],
    "wing_mm": ["", "13", "13.2", "132 mm", "13,25"],
    "Fat": ["", "3,5", "3.5", "7"],
    "Sheet no": ["", "77", "077", "x", "1.50"],
    "remarks": ["", "=cmd|'/c calc'!A1", "@x", "a\x07b\r\nc", "_x0041_", " blank ", "\ttab", "-x", "ü"],
}
edits = st.dictionaries(
    st.tuples(st.integers(FIRST, LAST), st.sampled_from(sorted(FIELDS))), st.integers(0, 8), max_size=8
)


@pytest.fixture(scope="module")
def book(tmp_path_factory):
    folder = tmp_path_factory.mktemp("drawn")
    source = write_book(folder / "round.xlsx")
    return source, read_season(source, schemas=declared()), folder


@given(edits)
@settings(max_examples=15, deadline=None)
@example({(row, "box"): 1 for row in (3, 4, 5)} | {(6, "date"): 6, (4, "net_g"): 2, (5, "gross_g"): 5})
@example({(3, "remarks"): 3, (4, "remarks"): 4, (5, "remarks"): 6, (6, "remarks"): 1, (7, "remarks"): 5})
def test_whatever_is_decided_is_read_again(book, drawn):
    source, season, folder = book
    texts = {
        (at(row), field): FIELDS[field][number % len(FIELDS[field])] for (row, field), number in drawn.items()
    }
    done = decided(source, texts, season=season)
    clean = written(clean_workbook_part(done), folder)
    same(read_season(clean, schemas=declared()), done.clean)
    assert openpyxl.load_workbook(clean)[SHEET]["A2"].value == "Date"


def test_formulas_that_were_never_worked_out_get_their_results(tmp_path):
    # openpyxl writes formulas with an empty element in the place of a result
    book = openpyxl.Workbook()
    book.active.title = "handlings"
    book.active.append(["date", "box", "ring", "gross_g", "bag_g", "net_g"])
    book.active.append(["2026-05-04", "SL-01", "SV01001", 330, 25, "=D2-E2"])
    book.save(tmp_path / "written.xlsx")
    season = decided(tmp_path / "written.xlsx", {("handlings!2", "gross_g"): "350"})
    clean = written(clean_workbook_part(season), tmp_path)
    values = openpyxl.load_workbook(clean, data_only=True)["handlings"]
    assert [values["D2"].value, values["F2"].value] == [350, 325]
    assert season.clean.frame("handlings")["net_g"].tolist() == [325.0]

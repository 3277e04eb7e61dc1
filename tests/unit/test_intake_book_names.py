"""Seasons whose formulas call tables and names: results follow the cells, and come back with them."""

from __future__ import annotations

import datetime as dt

import odf.table
import openpyxl
import pandas as pd
import pytest
from decided_book import at, declared
from hypothesis import given, settings
from hypothesis import strategies as st
from odf.opendocument import OpenDocumentSpreadsheet
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.formula import ArrayFormula
from openpyxl.worksheet.table import Table
from table_book import FIRST, HEADS, LAST, NETS, SHEET, write_table_book

from audit.checked import check_closely, recheck_all
from audit.checking import check, read_season
from audit.intake.amending import amend, amend_all
from audit.intake.opendocument import read_opendocument
from audit.rules import RULES

GROSS = {row: 300.0 + row - FIRST for row in range(FIRST, LAST + 1)}


@pytest.fixture(scope="module")
def season(tmp_path_factory):
    # written by xlsxwriter (PyPI), which knows nothing of our reader
    return read_season(write_table_book(tmp_path_factory.mktemp("tables") / "round.xlsx"), schemas=declared())


def nets(season):
    return dict(zip(range(FIRST, LAST + 1), season.frame("handlings").net_g, strict=True))


def own_results(season, column):
    return season.tables["handlings"].columns[SHEET, column].written.results


def test_net_of_a_table_follows_its_gross_and_no_other_net_moves(season):
    for row in range(FIRST, FIRST + len(NETS)):
        after = amend(season, declared(), at(row), "gross_g", "400")
        wanted = {**{one: gross - 22 for one, gross in GROSS.items()}, row: 378.0}
        assert nets(after) == wanted
        assert [one for one in after.readings if one.field == "net_g"] == []
        # "Net again" is one formula over all rows, which goes cell by cell
        for column in ("net_g", "Net again"):
            assert list(own_results(after, column)) == [row - FIRST]
            assert own_results(after, column)[row - FIRST].value == 378


def test_an_edit_of_another_column_leaves_all_results_alone(season):
    after = amend_all(season, declared(), [(at(5), "wing_mm", "130"), (at(6), "ring", "SV01999")])
    assert all(not own_results(after, column) for column in ("net_g", "Net again"))


def test_the_audit_does_not_blame_a_net_that_followed(season):
    checked = check_closely(season, declared(), RULES)
    again = recheck_all(checked, [(at(row), "gross_g", f"30{row}.5") for row in (5, 6, 7)])
    blamed = {one.cell.field for finding in again.report.findings for one in finding.suspects}
    assert "net_g" not in blamed
    assert again.report.findings == check(again.season, schemas=declared()).findings


EDITS = st.lists(
    st.tuples(
        st.integers(FIRST, LAST),
        st.sampled_from(["gross_g", "bag_g", "net_g", "Net again", "wing_mm"]),
        st.sampled_from(["", "21.5", "350", "x", "=7"]),
    ),
    max_size=6,
)


@given(EDITS)
@settings(max_examples=12, deadline=None)
def test_random_edits_give_the_sums_and_taken_back_the_season(season, edits):
    texts = season.tables["handlings"].typed
    after = amend_all(season, declared(), [(at(row), field, text) for row, field, text in edits])
    held = {(row, field): text for row, field, text in edits}
    for row, net in nets(after).items():
        gross, bag = held.get((row, "gross_g"), str(GROSS[row])), held.get((row, "bag_g"), "22")
        if (row, "net_g") in held or not all(one in ("", "21.5", "22", "350") for one in (gross, bag)):
            continue
        less = float(bag or 0) if NETS[(row - FIRST) % len(NETS)].count("Bag") else 22
        if gross in ("", "21.5", "350", str(GROSS[row])):
            assert net == float(gross or 0) - less, row
    back = amend_all(
        after, declared(), [(at(row), field, texts.loc[at(row), field]) for row, field, _ in edits]
    )
    pd.testing.assert_frame_equal(back.frame("handlings"), season.frame("handlings"))
    pd.testing.assert_frame_equal(back.tables["handlings"].typed, texts)
    assert back.readings == season.readings
    assert not own_results(back, "net_g")
    assert not own_results(back, "Net again")


def test_a_range_that_one_formula_fills_loses_its_results_with_what_it_is_made_from(tmp_path):
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Round"
    rows = [
        HEADS[:7],
        *([dt.date(2026, 6, 1), "SL-01", f"SV0100{n}", 300 + n, 22, None, 125] for n in range(4)),
    ]
    for row in rows:
        sheet.append(row)
    sheet["F2"] = ArrayFormula("F2:F5", "=FREQUENCY(D2:D5,E2:E4)")
    for number in range(3, 6):
        sheet[f"F{number}"] = 280
    path = tmp_path / "round.xlsx"
    book.save(path)
    read = read_season(path, schemas=declared())
    assert read.tables["handlings"].typed.net_g.to_list() == ["=FREQUENCY(D2:D5,E2:E4)"] * 4
    assert read.frame("handlings").net_g.to_list()[1:] == [280] * 3
    assert amend(read, declared(), "Round!3", "wing_mm", "130").frame("handlings").net_g.count() == 3
    after = amend(read, declared(), "Round!3", "gross_g", "400")
    assert after.frame("handlings").net_g.isna().all()
    assert sum("depends on cells that were changed" in one.remark for one in after.readings) == 4
    typed = amend(after, declared(), "Round!3", "net_g", "280")
    assert typed.frame("handlings").net_g.to_list()[1] == 280


def test_a_table_and_names_written_by_another_library_are_followed(tmp_path):
    # openpyxl (PyPI) keeps no results: the formulas get theirs with the first edit
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Box round"
    sheet.append(HEADS[:7])
    net = (
        "=Table1[[#This Row],[Gross (g)]]-Table1[[#This Row],[Bag (g)]]",
        "=D3-tare",
        "=D4-local",
        "=D5-ghost",
    )
    for number, formula in enumerate(net):
        sheet.append([dt.date(2026, 6, 1), "SL-01", f"SV0100{number}", 300, 22, formula, 125])
    sheet.add_table(Table(displayName="Table1", ref="A1:G5"))
    book.defined_names["tare"] = DefinedName("tare", attr_text="22")
    sheet.defined_names["local"] = DefinedName("local", attr_text="'Box round'!$E$2")
    path = tmp_path / "round.xlsx"
    book.save(path)
    read = read_season(path, schemas=declared())
    rows = [f"Box round!{row}" for row in range(2, 6)]
    after = amend_all(read, declared(), [(label, "gross_g", "400") for label in rows])
    assert after.frame("handlings").net_g.to_list()[:3] == [378, 378, 378]
    assert pd.isna(after.frame("handlings").net_g[rows[3]])
    after = amend_all(after, declared(), [("Box round!2", "bag_g", "20")])
    assert after.frame("handlings").net_g.to_list()[:3] == [380, 378, 380]


def test_formulas_of_one_file_do_not_depend_on_cells_of_another(tmp_path):
    path = write_table_book(tmp_path / "round.xlsx")
    book = openpyxl.load_workbook(path, data_only=True)
    sheet = book[SHEET]
    for row in range(FIRST, LAST + 1):
        sheet[f"F{row}"] = "=INDIRECT(A1)"
    book.save(path)
    reads = openpyxl.Workbook()
    reads.active.title = SHEET
    for row in (["Read at", "Tag"], [dt.datetime(2026, 6, 1, 9), "999000000123000"]):
        reads.active.append(row)
    reads.save(tmp_path / "reader.xlsx")
    season = read_season(path, schemas=declared(), reads=tmp_path / "reader.xlsx")
    label = season.frame("tag_reads").index[0]
    after = amend(season, declared(), str(label), "tag", "999000000123001")
    assert not own_results(after, "net_g")
    after = amend(after, declared(), at(5), "wing_mm", "130")
    assert len(own_results(after, "net_g")) == LAST - FIRST + 1


def test_names_of_an_open_document_are_followed(tmp_path):
    # written by odfpy (PyPI)
    document = OpenDocumentSpreadsheet()
    sheets = {name: odf.table.Table(name=name) for name in ("Round", "Set up")}
    formulas = ("[.K2]-tare", "[.K2]-half", "SUM(own)", "[.K2]-moves", "[$'Set up'.A1]*2")
    rows = [
        [{"formula": f"of:={one}", "value": 7} for one in formulas],
        [{"formula": "of:=[.A1:.A2]*tare", "value": 1, "numbermatrixrowsspanned": 2}],
        [{"value": 2}],
    ]
    for sheet, some in (("Round", rows), ("Set up", [[{"value": 22}]])):
        for row in some:
            line = odf.table.TableRow()
            for cell in row:
                line.addElement(odf.table.TableCell(valuetype="float", **cell))
            sheets[sheet].addElement(line)
        document.spreadsheet.addElement(sheets[sheet])
    named = odf.table.NamedExpressions()
    for name, address in (
        ("tare", "$'Set up'.$A$1"),
        ("moves", "$'Set up'.A1"),
        ("own", "$Round.$A$1:$Round.$B$2"),
    ):
        named.addElement(
            odf.table.NamedRange(name=name, basecelladdress="$Round.$A$1", cellrangeaddress=address)
        )
    half = "of:=[$'Set up'.$A$1]/2"
    named.addElement(odf.table.NamedExpression(name="half", basecelladdress="$Round.$A$1", expression=half))
    document.spreadsheet.addElement(named)
    document.save(str(tmp_path / "round.ods"))
    (sheet, _), _ = read_opendocument(tmp_path / "round.ods", 1000)
    assert [cell.in_cells for cell in sheet.rows[0]] == [
        "=K2-('Set up'!$A$1)",
        "=K2-('Set up'!$A$1/2)",
        "=SUM((Round!$A$1:$B$2))",
        "=K2-moves",
        "='Set up'!A1*2",
    ]
    assert sheet.rows[0][4].formula == "=Set up!A1*2"
    assert [sheet.rows[row][0].formula for row in (1, 2)] == ["=A1:A2*tare"] * 2
    assert [sheet.rows[row][0].in_cells for row in (1, 2)] == [f"=A{row}*('Set up'!$A$1)" for row in (1, 2)]
    assert sheet.rows[2][0].value == 2

"""Formulas: what they refer to, what they come to, and what depends on them."""

from __future__ import annotations

import datetime as dt

import openpyxl
import pandas as pd
import pytest
from decided_book import SHEET, at, declared, write_book
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl.formula.translate import Translator, TranslatorError

from audit.checked import check_closely, recheck_all
from audit.checking import check, read_season
from audit.intake.amending import amend, amend_all
from audit.intake.formula_values import NoValueError, work_out
from audit.intake.formulas import formula_of
from audit.intake.moved_formula import moved_formula
from audit.intake.recalculation import recalculated
from audit.rules import RULES

CELLS = {
    (1, 1): 395.5,
    (2, 1): 22,
    (3, 1): None,
    (4, 1): "x",
    (5, 1): "7",
    (6, 1): True,
    (7, 1): dt.datetime(2026, 6, 12),
    (8, 1): dt.datetime(2026, 5, 4),
    (9, 1): "#N/A",
}


def cells(area):
    if area.sheet:
        raise NoValueError
    return [
        CELLS.get((row, column))
        for row in range(area.top, area.bottom + 1)
        for column in range(area.left, area.right + 1)
    ]


# Results as spreadsheet programs give them. That a minus binds more than a power, and the examples of ROUND,
# are those of the help of a common program, from memory; the others follow from ISO/IEC 29500-1, 18.17.
@pytest.mark.parametrize(
    ("formula", "result"),
    [
        ("=A1-A2", 373.5),
        ("= ( A1 - A2 ) / 2", 186.75),
        ("=-2^2", 4),
        ("=2^-1", 0.5),
        ("=10%*50", 5),
        ("=1+2*3", 7),
        ("=0.1+0.2-0.3", 0),
        ("=1.1-1", 0.1),
        ("=A3+1", 1),
        ("=A5*2", 14),
        ("=A6+1", 2),
        ("=A7-A8", 39),
        ("=ROUND(2.15,1)", 2.2),
        ("=ROUND(2.149,1)", 2.1),
        ("=ROUND(-1.475,2)", -1.48),
        ("=ROUND(21.5,-1)", 20),
        ("=SUM(A1:A6)", 417.5),  # texts and truth values of a range are passed over
        ("=SUM(A1;A2)", 417.5),
        ("=AVERAGE(A1:A5)", 208.75),
        ("=MIN(A1:A5)", 22),
        ("=MAX($A$1:$A$5,500)", 500),
        ("=COUNT(A1:A6)", 2),
        ('=IF(A3="","",A3-A2)', ""),
        ('=IF(A1>A2,A1-A2,"?")', 373.5),
        ("=IF(A1<A2,1)", False),
        ('=IF(AND(A1>0,NOT(A2>A1)),"yes","no")', "yes"),
        ('="SL-"&A2', "SL-22"),
        ('="a"="A"', True),
        ("=A4>A1", True),  # a text is more than a number
        ("=ISBLANK(A3)", True),
        ("=ABS(A2-A1)", 373.5),
    ],
)
def test_plain_formulas_come_to_what_a_spreadsheet_gives(formula, result):
    value = work_out(formula_of(formula).tree, cells)
    assert value == result
    assert isinstance(value, bool) == isinstance(result, bool)


@pytest.mark.parametrize(
    "formula",
    [
        "=A4-A2",  # a text
        "=A9-A2",  # an error
        "=A1/A3",
        "=A1:A2*2",  # fills a range
        "=MEDIAN(A1:A3)",
        "=AVERAGE(A3:A4)",
        "=(-8)^(1/3)",
        "=1e300*1e300",
        "=A7+14",  # a day as a number: which one depends on the system of the workbook
        "=IF(A4,1,2)",
        "=SUM(A1:A9)",
    ],
)
def test_what_is_not_sure_has_no_value(formula):
    with pytest.raises(NoValueError):
        work_out(formula_of(formula).tree, cells)


@pytest.mark.parametrize(
    ("formula", "anywhere"),
    [
        ("=tare-K2", True),
        ("=INDIRECT(A1)", True),
        ("=Birds[[#This Row],[Gross]]-A1", True),
        ("=SUM(one:three!A1)", True),
        ("={1,2}", False),
        ('=MATCH(A1,{"}",2},0)', False),
        ("=IF(A1>0,A1,#N/A)+#REF!", False),
        ("=_xlfn.LET(_xlpm.x,A1,_xlpm.x*2)", False),
        ("=@A1:A3", False),
        ("=SUM('one:three'!A1)", True),
        ("=A1#", True),
        ("=VLOOKUP(A1,Boxes!$A:$C,2)", False),
        ("=[1]other!A1+B2", False),
        ("=(((1", False),
        ("=" + "(" * 500 + "1" + ")" * 500, False),
        ("=A1 B1", False),
    ],
)
def test_more_than_arithmetic_is_told_from_it(formula, anywhere):
    taken = formula_of(formula)
    assert taken.anywhere == anywhere
    if taken.tree is not None:
        with pytest.raises(NoValueError):
            work_out(taken.tree, cells)


PIECES = st.sampled_from(
    [
        "A1",
        "$B$2",
        "C$3",
        "$D4",
        "A1:B2",
        "$A:$C",
        "2:$7",
        "'o''s'!E5",
        "Boxes!F6",
        "LOG10(G7)",
        "SUM(H8,3)",
        '"A1"',
        "1.5",
    ]
)


@given(
    st.lists(PIECES, min_size=1, max_size=4), st.lists(st.sampled_from("+-*/&<"), min_size=3, max_size=3),
    st.integers(-3, 9), st.integers(-3, 9),
)  # fmt: skip
@settings(max_examples=40, deadline=None)
def test_a_moved_formula_reads_as_another_library_moves_it(pieces, signs, rows, columns):
    text = "".join(piece + sign for piece, sign in zip(pieces, [*signs[: len(pieces) - 1], ""], strict=True))
    # openpyxl (PyPI): its translation of shared formulas
    try:
        wanted = Translator(f"={text}", "J10").translate_formula(row_delta=rows, col_delta=columns)
    except (TranslatorError, ValueError):
        return
    moved = moved_formula(text, rows, columns)
    if "#REF!" not in moved:
        assert f"={moved}" == wanted


class Held:
    """Cells of one sheet."""

    def __init__(self, values):
        self.values = values

    def at(self, place):
        return self.values[place]

    def within(self, sheet, area):
        return [place for place in self.values if place[0] == sheet and area.holds(*place[1:])]


@given(st.lists(st.integers(0, 9), min_size=6, max_size=6), st.integers(0, 5), st.integers(0, 99))
@settings(max_examples=30, deadline=None)
def test_formulas_of_formulas_are_worked_out_in_order(numbers, number, now):
    values = {("s", row, 1): value for row, value in enumerate(numbers, 1)}
    texts = {("s", row, 2): f"=A{row}*2" + (f"+B{row + 1}" if row < 6 else "") for row in range(1, 7)}
    texts["s", 1, 3] = "=SUM(B1:B6)"
    texts["s", 2, 3] = "=SUM(A1:A2)"
    held = Held({**values, **dict.fromkeys(texts, -1.0)})
    results = recalculated(
        {place: formula_of(text) for place, text in texts.items()}, held, {("s", number + 1, 1): now}
    )
    a = [*numbers]
    a[number] = now
    b = [2 * sum(a[row:]) for row in range(6)]
    wanted = {("s", row + 1, 2): b[row] for row in range(number + 1)} | {("s", 1, 3): None}
    # cells below are as stored, which was -1
    below = -1 if number < 5 else 0
    wanted = {("s", row + 1, 2): 2 * sum(a[row : number + 1]) + below for row in range(number + 1)}
    assert {place: results[place] for place in wanted} == wanted
    assert (("s", 2, 3) in results) == (number < 2)
    assert results["s", 1, 3] == sum(wanted.values()) - (5 - number)


def test_formulas_that_go_round_in_a_ring_have_no_result():
    formulas = {
        ("s", 1, 1): formula_of("=B1+C1"),
        ("s", 1, 2): formula_of("=A1"),
        ("s", 1, 4): formula_of("=C1"),
    }
    held = Held({("s", 1, 1): 1.0, ("s", 1, 2): 1.0, ("s", 1, 3): 1.0, ("s", 1, 4): 1.0})
    assert recalculated(formulas, held, {("s", 1, 3): 5}) == {
        ("s", 1, 1): None,
        ("s", 1, 2): None,
        ("s", 1, 4): 5,
    }


@pytest.fixture(scope="module")
def season(tmp_path_factory):
    path = write_book(tmp_path_factory.mktemp("formulas") / "round.xlsx")
    return read_season(path, schemas=declared())


def nets(season, *rows):
    return season.frame("handlings").net_g[[at(row) for row in rows]].tolist()


def test_net_follows_an_amended_gross(season):
    after = amend_all(season, declared(), [(at(3), "gross_g", "400"), (at(4), "bag_g", "25.5")])
    assert nets(after, 3, 4, 5) == [378, 275.5, 280]  # row 3 takes the bag from a cell above the header
    assert after.tables["handlings"].typed.net_g[at(4)] == "=F4-G4"
    assert [one for one in after.readings if one.field == "net_g"] == []


def test_a_recalculated_net_is_not_blamed_and_a_recheck_says_the_same(season):
    checked = check_closely(season, declared(), RULES)
    again = recheck_all(checked, [(at(row), "gross_g", f"{380 + row}") for row in (3, 4, 8)])
    assert nets(again.season, 3, 4, 8) == [361, 362, 366]
    blamed = {
        one.cell.label
        for finding in again.report.findings
        for one in finding.suspects
        if one.cell.field == "net_g"
    }
    assert not blamed & {at(3), at(4), at(8)}
    assert again.report.findings == check(again.season, schemas=declared()).findings
    back = recheck_all(again, [(at(row), "gross_g", str(297 + row)) for row in (3, 4, 8)])
    assert back.report.findings == checked.report.findings


def test_edits_one_by_one_and_taken_back_give_the_same_season(season):
    edits = [
        (at(4), "gross_g", "400"),
        (at(4), "net_g", "390"),
        (at(5), "bag_g", ""),
        (at(3), "gross_g", "x"),
    ]
    step = season
    for edit in edits:
        step = amend(step, declared(), *edit)
    whole = amend_all(season, declared(), edits)
    pd.testing.assert_frame_equal(step.frame("handlings"), whole.frame("handlings"))
    assert step.readings == whole.readings
    assert nets(whole, 4, 5) == [390, 302]
    assert pd.isna(nets(whole, 3)[0])
    back = amend_all(
        whole,
        declared(),
        [(label, field, season.tables["handlings"].typed.loc[label, field]) for label, field, _ in edits],
    )
    pd.testing.assert_frame_equal(back.frame("handlings"), season.frame("handlings"))
    assert back.readings == season.readings
    assert all(not column.written.results for column in back.tables["handlings"].columns.values())


def test_a_formula_that_cannot_be_worked_out_counts_as_one_without_a_result(tmp_path):
    path = write_book(tmp_path / "round.xlsx", shared=False)
    book, stored = openpyxl.load_workbook(path), openpyxl.load_workbook(path, data_only=True)
    assert stored[SHEET]["H4"].value == 279
    book[SHEET]["H5"] = '=F5-INDIRECT("G5")'
    book[SHEET]["H6"] = "=F6-tare"
    book.save(path)
    read = read_season(path, schemas=declared())
    # the library keeps no results: all formulas of the sheet are without one until they are worked out anew
    after = amend(read, declared(), at(4), "gross_g", "400")
    assert nets(after, 4) == [378]
    told = {one.label: one.remark for one in after.readings if one.field == "net_g"}
    assert at(4) not in told
    assert "depends on cells that were changed" in told[at(5)]
    assert "depends on cells that were changed" in told[at(6)]
    assert "has no result stored" in told[at(7)]


def test_a_season_without_formulas_pays_nothing(monkeypatch):
    from audit.intake import amending

    read = read_season(
        {"handlings": pd.DataFrame([{"date": "2026-06-12", "box": "SL-01", "ring": "SV01001"}])}
    )
    monkeypatch.setattr(amending, "results_of", None)
    amend(read, declared(), "handlings!2", "ring", "SV01002")

"""Tables and names of a workbook: which cells a formula means by them."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.intake.book_names import BookNames, names_of_book
from audit.intake.filled_ranges import fill_ranges
from audit.intake.formulas import Area, formula_of
from audit.intake.grid import RawCell
from audit.intake.moved_formula import moved_formula
from audit.intake.plain_formulas import PlainFormulas
from audit.intake.table_references import SheetTable, bracketed, cells_meant

BIRDS = SheetTable(
    "Birds", "Round 2026", 2, 3, 9, 7, ("Ring", "Gross (g)", "Bag [g]", "No #", "Ringer's"), 1, 1
)
BARE = SheetTable("Bare", "Other", 1, 1, 4, 1, ("x",), 0, 0)
NAMES = {
    ("", "tare"): "22",
    ("", "less"): "-2.5",
    ("", "word"): '"SL-"',
    ("", "bag"): "'Round 2026'!$L$1",
    ("round 2026", "bag"): "'Round 2026'!$M$1",
    ("", "all_bags"): "'Round 2026'!$L$1:$L$9",
    ("", "moves"): "'Round 2026'!$L1",
    ("", "here"): "$L$1",
    ("", "gross"): "Birds[Gross (g)]",
    ("", "twice"): "bag*2",
    ("", "ring"): "ring+1",
    ("", "gone"): "#REF!",
    ("", "far"): "OFFSET('Round 2026'!$A$1,1,1)",
    ("other", "own"): "7",
}
WRITER = PlainFormulas(BookNames((BIRDS, BARE), NAMES))
HERE = ("round 2026", 4, 8)


# The grammar is that of structure-reference in [MS-XLSX], 2.2.2; what each keyword means is from the help of
# a common spreadsheet program, from memory.
@pytest.mark.parametrize(
    ("reference", "cells"),
    [
        ("[[#This Row],[Gross (g)]]", "$D$4"),
        ("[[#This Row],Ring]", "$C$4"),
        ("[ [#this row] , [ Gross (g) ] ]", "$D$4"),
        ("[@Ring]", "$C$4"),
        ("[@[gross (G)]]", "$D$4"),
        ("[@]", "$C$4:$G$4"),
        ("[#This Row]", "$C$4:$G$4"),
        ("[[#This Row],[Ring]:[Bag '[g']]]", "$C$4:$E$4"),
        ("[@[Bag '[g']]:[Ring]]", "$E$4:$C$4"),
        ("[Ring]", "$C$3:$C$8"),
        ("[]", "$C$3:$G$8"),
        ("[#Data]", "$C$3:$G$8"),
        ("[[#Data],[Ring]]", "$C$3:$C$8"),
        ("[[#All],[Ring]]", "$C$2:$C$9"),
        ("[#All]", "$C$2:$G$9"),
        ("[[#Headers],[Ring]]", "$C$2"),
        ("[[#Headers],[#Data],[Ring]]", "$C$2:$C$8"),
        ("[[#Totals],[Gross (g)]]", "$D$9"),
        ("[[#Data],[#Totals],[Ring]:[Gross (g)]]", "$C$3:$D$9"),
        ("[[Ring]:[Gross (g)]]", "$C$3:$D$8"),
        ("[No '#]", "$F$3:$F$8"),
        ("[[Ringer''s]]", "$G$3:$G$8"),
        ("[Nothing]", None),
        ("[[#This Row],[Nothing]]", None),
        ("[[#Elsewhere],[Ring]]", None),
        ("[[#Headers],[#Totals],[Ring]]", None),
        ("[[Ring],[Gross (g)]]", None),
        ("[[Ring],[#All]]", None),
        ("[[#All]:[Ring]]", None),
        ("[[#All],]", None),
        ("[@[#All]]", None),
        ("[[Ring]:[Gross (g)]:[Ring]]", None),
    ],
)
def test_a_reference_to_a_table_means_these_cells(reference, cells):
    assert cells_meant(BIRDS, reference, HERE) == cells


def test_what_a_table_lacks_or_another_row_is_not_meant():
    assert cells_meant(BARE, "[#Headers]", HERE) is None
    assert cells_meant(BARE, "[#Totals]", HERE) is None
    assert cells_meant(BARE, "[x]", None) == "$A$1:$A$4"
    for place in (None, ("round 2026", 2, 8), ("round 2026", 9, 8), ("other", 4, 1)):
        assert cells_meant(BIRDS, "[@Ring]", place) is None


@pytest.mark.parametrize(
    ("formula", "plain"),
    [
        ("=Birds[[#This Row],[Gross (g)]]-birds[@[Bag '[g']]]", "=$D$4-$E$4"),
        ("=SUM(Birds[Gross (g)])", "=SUM($D$3:$D$8)"),
        ("=SUM(Birds)", "=SUM($C$3:$G$8)"),
        ("=SUM(Bare[x])", "=SUM(Other!$A$1:$A$4)"),
        ("=SUM(Birds[[#This Row],[Ring]]:Birds[[#This Row],[Gross (g)]])", "=SUM($C$4:$D$4)"),
        ("=D4 - tare%", "=D4 - (22)%"),
        ("=2^less&word", '=2^(-2.5)&("SL-")'),
        ("=D4-bag", "=D4-('Round 2026'!$M$1)"),  # that of the sheet goes before
        ("=SUM(gross)", "=SUM(('Round 2026'!$D$3:$D$8))"),
        ("=Other!own+1", "=(7)+1"),
        ("=A1:A9 all_bags", "=A1:A9 ('Round 2026'!$L$1:$L$9)"),
        ("=twice", "=(('Round 2026'!$L$1)*2)"),
        ('="tare"&Birds[@Ring]', '="tare"&$C$4'),
        # what is not sure stays
        ("=own", "=own"),
        ("=moves+here", "=moves+here"),
        ("=ring", "=(ring+1)"),
        ("=nobody+1", "=nobody+1"),
        ("=[1]other!tare+[1]!tare+'[2]my sheet'!tare", "=[1]other!tare+[1]!tare+'[2]my sheet'!tare"),
        ("=[1]!Birds[Ring]", "=[1]!Birds[Ring]"),
        ("=Nobody[Ring]+tare", "=Nobody[Ring]+(22)"),
        ("=tare:bag", "=tare:('Round 2026'!$M$1)"),
        ("=tare!A1", "=tare!A1"),
        ("=tare#", "=tare#"),
        ("=[@Ring]", "=[@Ring]"),  # this cell lies beside the table
        ("=Birds[[#This Row],[Ring]", "=Birds[[#This Row],[Ring]"),
        ("=#N/A+gone", "=#N/A+(#REF!)"),
    ],
)
def test_a_formula_is_written_with_the_cells_it_means(formula, plain):
    assert WRITER.plain(formula, HERE) == plain


def test_a_bare_reference_means_the_table_in_which_it_stands():
    assert WRITER.plain("=[@[Gross (g)]]-[[#This Row],Ring]", ("round 2026", 5, 7)) == "=$D$5-$C$5"


@pytest.mark.parametrize("formula", ["=own", "=moves", "=ring", "=nobody", "=tare:bag", "=[@Ring]", "=far"])
def test_what_is_not_sure_may_depend_on_anything(formula):
    assert formula_of(WRITER.plain(formula, HERE)).anywhere


@pytest.mark.parametrize("formula", ["=gone", "=bag", "=SUM(gross)", "=twice", "=MEDIAN(Birds[Ring])"])
def test_what_is_sure_depends_on_nothing_else(formula):
    assert not formula_of(WRITER.plain(formula, HERE)).anywhere


def test_names_that_grow_without_end_are_left_alone():
    names = {("", f"n{number}x"): "+".join([f"n{number + 1}x"] * 9) for number in range(30)}
    writer = PlainFormulas(BookNames(names={**names, ("", "long"): "1+" * 100_000 + "1"}))
    assert len(writer.plain("=n0x+long", HERE)) < 100_000
    assert writer.plain("=long", HERE) == "=long"


@given(st.text(st.sampled_from("[]'#@,:! $A1Birdstare()\"{}x\\"), max_size=40))
@settings(max_examples=80, deadline=None)
def test_no_text_breaks_the_writer(text):
    WRITER.plain(f"={text}", HERE)
    assert 1 <= bracketed(f"[{text}", 0) <= len(text) + 1


def test_a_tick_hides_a_bracket_when_a_formula_is_moved():
    assert moved_formula("Birds['[g]+A1", 1, 0) == "Birds['[g]+A2"


def test_damaged_parts_name_nothing():
    assert not names_of_book({}.get, "xl/workbook.xml")
    parts = {
        "xl/workbook.xml": b"""<workbook xmlns="m" xmlns:r="o"><sheets><sheet name="S" r:id="a"/>
            <sheet name="T"/></sheets><definedNames><definedName name="a" localSheetId="7">1</definedName>
            <definedName name="b" localSheetId="x">1</definedName><definedName name="C">2</definedName>
            <definedName name="d" function="1">2</definedName><definedName name="e"/></definedNames>
            </workbook>""",
        "xl/_rels/workbook.xml.rels": b'<Relationships xmlns="p"><Relationship Id="a" Type="o/worksheet" '
        b'Target="s.xml"/></Relationships>',
        "xl/_rels/s.xml.rels": b"""<Relationships xmlns="p">
            <Relationship Id="a" Type="o/table" Target="/t.xml"/>
            <Relationship Id="b" Type="o/table" Target="u.xml"/>
            <Relationship Id="c" Type="o/table" Target="v.xml"/>
            <Relationship Id="d" Type="o/table" Target="gone"/></Relationships>""",
        "t.xml": b'<table xmlns="m" displayName="T" ref="A1:B3"><tableColumns><tableColumn name="a_x000a_b"/>'
        b'<tableColumn name="c"/></tableColumns></table>',
        "xl/u.xml": b'<table xmlns="m" displayName="U" ref="A1:B3"><tableColumns/></table>',
        "xl/v.xml": b"<table",
    }
    names = names_of_book(parts.get, "xl/workbook.xml")
    assert names.names == {("", "c"): "2"}
    assert names.tables == (SheetTable("T", "S", 1, 1, 3, 2, ("a\nb", "c")),)


def test_a_formula_fills_its_range_as_far_as_cells_are_written():
    rows = [[RawCell(number, str(number)) for number in range(3)] for _ in range(4)]
    formulas = {(0, 1): "=A1:A3", (1, 1): "=5"}
    filled = fill_ranges(rows, formulas, {(0, 1): "B1:B3", (0, 0): "nonsense"})
    assert set(filled) == {(0, 1), (2, 1)}
    assert rows[2][1] == RawCell(1, "=A1:A3", "", "=A1:A3")
    assert formulas[2, 1] == "=A1:A3"
    assert rows[1][1].formula == ""
    large = dict.fromkeys([(3, number) for number in range(3)], "A1:XFD1048576")
    assert len(fill_ranges(rows, dict.fromkeys(large, "=TABLE()"), large)) < 12


@pytest.mark.parametrize(
    ("formula", "cell"),
    [
        ("=A1:A3-$B$1:$B$3", "=A2-B2"),
        ("=Other!C4:C6*2%", "=Other!C5*2%"),
        ('=IF(A1:A3="","",ROUND(A1:A3-$D$9,1))', '=IF(A2="","",ROUND(A2-$D$9,1))'),
        # not cell by cell
        ("=SUM(A1:A3)", "=SUM(A1:A3)"),
        ("=A1:A3-SUM(B1:B3)", "=A1:A3-SUM(B1:B3)"),
        ("=A1:A4*2", "=A1:A4*2"),
        ("=A1:C1*2", "=A1:C1*2"),
        ("=A1*2", "=A1*2"),
        ("=A1:A3*nobody", "=A1:A3*nobody"),
        ("=AND(A1:A3>0)", "=AND(A1:A3>0)"),
    ],
)
def test_a_formula_of_a_range_is_written_for_one_of_its_cells(formula, cell):
    assert PlainFormulas(BookNames()).plain(formula, ("s", 2, 8), Area("", 1, 8, 3, 8)) == cell

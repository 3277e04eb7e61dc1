"""Decided cells are found again, and never in the row of another bird."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from moved_sheet import (
    FIELDS,
    Row,
    SheetOfRows,
    alike_rows,
    decide_some,
    extended,
    mended,
    sorted_anew,
    touched,
    without,
    wrong_places,
)

from audit.refusal import Refusal
from audit.review import row_texts
from audit.review.decisions import Decision
from audit.review.places import decided_cell, place

SEEDS = st.integers(0, 2**32)


def draw(seed):
    rng = random.Random(seed)  # noqa: S311 - draws trials, keeps no secret
    sheet = alike_rows(rng, rng.randrange(2, 14))
    return rng, sheet, decide_some(rng, sheet, rng.randrange(1, 8))


def placed_in(sheet, decided):
    return place(sheet.season(), [one.decision for one in decided])


@given(SEEDS)
@settings(max_examples=80)
def test_a_sorted_extended_renamed_sheet_loses_nothing(seed):
    rng, sheet, decided = draw(seed)
    now = replace(extended(rng, sorted_anew(rng, sheet)), sheet=rng.choice(("handlings", "May")))
    placed = placed_in(now, decided)
    assert placed.orphans == ()
    assert wrong_places(decided, now, placed) == []
    assert sum(map(len, placed.at.values())) == len(decided)


@given(SEEDS, st.permutations(["sort", "extend", "delete", "mend", "touch"]), st.integers(1, 5))
@settings(max_examples=80)
@example(1028, ["mend", "touch", "sort", "extend", "delete"], 2)
def test_no_decision_ever_lands_in_another_row(seed, steps, number):
    rng, now, decided = draw(seed)
    for step in steps[:number]:
        if step == "mend":
            now = mended(rng, now, decided)
        else:
            change = {"sort": sorted_anew, "extend": extended, "delete": without, "touch": touched}[step]
            now = change(rng, now)
    placed = placed_in(now, decided)
    assert wrong_places(decided, now, placed) == []
    assert sum(map(len, placed.at.values())) + len(placed.orphans) == len(decided)
    assert all(one.why.endswith(".") for one in placed.orphans)


BIRD = {
    "date": "4.5.2026",
    "box": "SL-01",
    "species": "Barn owl",
    "ring": "SV01001",
    "tag": "999104190000001",
    "gross_g": "395",
    "net_g": "373",
    "wing_mm": "201",
}
SISTER = BIRD | {
    "ring": "SV01002",
    "tag": "999104190000002",
    "gross_g": "310",
    "net_g": "288",
    "wing_mm": "188",
}
LATER = {
    "date": "20.5.2026",
    "box": "SL-07",
    "species": "Kestrel",
    "ring": "SK01001",
    "tag": "999104190000009",
    "gross_g": "222",
    "net_g": "200",
    "wing_mm": "150",
}


def sheet_of(*rows, sheet="handlings", fields=FIELDS):
    return SheetOfRows(tuple(Row(at, dict(row)) for at, row in enumerate(rows)), sheet, fields)


def amended(sheet, row, field, instead, identity="a", verb="amend"):
    return Decision(
        identity, "", "AB", verb, (decided_cell(sheet.season(), f"{sheet.sheet}!{row}", field, instead),)
    )


def at(sheet, *decisions):
    placed = place(sheet.season(), decisions)
    return {key: [d.identity for d, _ in here] for key, here in placed.at.items()}, [
        one.why for one in placed.orphans
    ]


def test_a_mended_other_cell_does_not_hide_the_row():
    keep = amended(sheet_of(BIRD, SISTER), 2, "net_g", "374")
    assert at(sheet_of(SISTER, BIRD | {"wing_mm": "210"}), keep) == ({("handlings!3", "net_g"): ["a"]}, [])


def test_a_cell_that_was_mended_in_the_sheet_is_no_orphan():
    one = amended(sheet_of(BIRD, SISTER), 2, "net_g", "374")
    assert at(sheet_of(BIRD | {"net_g": "374"}, SISTER), one) == ({("handlings!2", "net_g"): ["a"]}, [])


def test_several_cells_of_a_row_some_of_them_mended():
    sheet = sheet_of(BIRD, SISTER)
    both = [amended(sheet, 2, "net_g", "374"), amended(sheet, 2, "ring", "SV01009", "b")]
    there, lost = at(sheet_of(SISTER, BIRD | {"net_g": "374"}), *both)
    assert there == {("handlings!3", "net_g"): ["a"], ("handlings!3", "ring"): ["b"]}
    assert lost == []


def test_a_third_text_is_an_orphan():
    one = amended(sheet_of(BIRD, SISTER), 2, "net_g", "374")
    (why,) = at(sheet_of(BIRD | {"net_g": "400"}, SISTER), one)[1]
    assert why == (
        "The cell holds '400' now: '373' stood when it was decided, and '374' was to take its place."
    )


def test_a_deleted_row_is_an_orphan_and_its_sister_is_left_alone():
    one = amended(sheet_of(BIRD, SISTER), 2, "net_g", "374")
    assert at(sheet_of(SISTER, LATER), one) == ({}, ["No row holds what row 2 of sheet 'handlings' held."])


def test_siblings_that_differ_in_one_cell():
    near = BIRD | {"wing_mm": "202"}
    one = amended(sheet_of(BIRD, near), 2, "net_g", "374")
    assert at(sheet_of(near), one)[0] == {}
    assert at(sheet_of(near, BIRD), one)[0] == {("handlings!3", "net_g"): ["a"]}


def test_twins_keep_their_order_and_are_orphans_when_one_is_gone():
    sheet = sheet_of(BIRD, SISTER, BIRD)
    second = amended(sheet, 4, "ring", "SV01003")
    assert second.cells[0].twin == 2
    assert at(sheet_of(SISTER, BIRD, BIRD, LATER), second)[0] == {("handlings!4", "ring"): ["a"]}
    (why,) = at(sheet_of(BIRD, SISTER), second)[1]
    assert why == (
        "2 rows held the same as row 4 of sheet 'handlings', and not as many are left: which one is meant "
        "cannot be told."
    )
    # mended in the sheet: nothing is left to be done, and the other one stays as it is
    assert at(sheet_of(BIRD, SISTER, BIRD | {"ring": "SV01003"}), second) == (
        {("handlings!4", "ring"): ["a"]},
        [],
    )


def test_a_twin_that_is_left_is_not_taken_for_the_one_that_was_decided():
    first = amended(sheet_of(BIRD, SISTER, BIRD), 2, "ring", "SV01003")
    there, lost = at(sheet_of(BIRD, SISTER), first)
    assert there == {}
    assert lost[0].startswith("2 rows held the same as row 2")


def test_a_sibling_mended_until_it_looks_like_a_half_mended_row():
    sibling = BIRD | {"net_g": "374", "remarks": "runt"}
    sheet = sheet_of(BIRD, sibling)
    both = [amended(sheet, 2, "net_g", "374"), amended(sheet, 2, "wing_mm", "210", "b")]
    there, lost = at(sheet_of(sibling | {"remarks": ""}, SISTER), *both)
    assert there == {}
    assert lost[1] == (
        "What stood in row 2 of sheet 'handlings' is not there any more; a row that is left may be another "
        "one, as similar."
    )


def test_a_row_typed_once_more_is_told_apart_only_by_its_place():
    one = amended(sheet_of(BIRD, SISTER), 2, "net_g", "374")
    assert at(sheet_of(BIRD, SISTER, BIRD), one)[0] == {("handlings!2", "net_g"): ["a"]}
    assert at(sheet_of(SISTER, BIRD, BIRD), one)[1] == [
        "Several rows hold what row 2 of sheet 'handlings' held, and none is better than the others."
    ]


def test_a_formula_names_another_row_after_sorting():
    formula = BIRD | {"net_g": "=F2-G2"}
    one = amended(sheet_of(formula, SISTER), 2, "net_g", "374")
    assert at(sheet_of(SISTER, BIRD | {"net_g": "=F3-G3"}), one)[0] == {("handlings!3", "net_g"): ["a"]}


def test_a_column_that_is_gone_or_has_another_header():
    own = ("date", "box", "ring", "wing_mm", "Note")
    rows = ({**BIRD, "Note": "fat"}, {**BIRD, "Note": "thin"})
    one = amended(sheet_of(*rows, fields=own), 2, "wing_mm", "210")
    renamed = [{**BIRD, "Remark": "thin"}, {**BIRD, "Remark": "fat"}]
    there = sheet_of(*renamed, fields=("date", "box", "ring", "wing_mm", "Remark"))
    assert at(there, one)[0] == {("handlings!3", "wing_mm"): ["a"]}
    # without the only column in which the two differed, nobody can tell
    assert at(sheet_of(BIRD, fields=("date", "box", "ring", "wing_mm")), one)[0] == {}
    (why,) = at(sheet_of(rows[0], fields=("date", "box", "ring", "Note")), one)[1]
    assert "held" in why or "no column" in why


def test_a_decided_column_that_is_gone():
    one = amended(sheet_of(BIRD, SISTER), 2, "wing_mm", "210")
    fields = tuple(name for name in FIELDS if name != "wing_mm")
    assert at(sheet_of(SISTER, BIRD, fields=fields), one)[1] == [
        "Sheet 'handlings' has no column 'wing_mm': the row is there, but not the cell."
    ]


@pytest.mark.parametrize("verb", ["keep", "ask"])
def test_what_is_said_of_a_column_that_the_sheet_never_had(verb):
    sheet = sheet_of(BIRD, SISTER)
    one = amended(sheet, 2, "sex", None, verb=verb)
    assert at(sheet, one) == ({("handlings!2", "sex"): ["a"]}, [])
    filled = amended(sheet, 2, "sex", "F")
    assert at(sheet, filled)[1] == [
        "Sheet 'handlings' has no column 'sex': the row is there, but not the cell."
    ]


def test_what_is_written_down_of_a_cell():
    sheet = sheet_of(BIRD, BIRD | {"net_g": "374"}, BIRD, SISTER)
    cell = decided_cell(sheet.season(), "handlings!4", "net_g", "374")
    assert (cell.sheet, cell.row, cell.table, cell.observed) == ("handlings", 4, "handlings", "373")
    assert (cell.twin, cell.twins, cell.alike, cell.nearest) == (2, 2, 1, 1)
    assert cell.as_typed == BIRD
    assert cell.empty == ("remarks",)


def test_a_row_that_is_not_there():
    with pytest.raises(Refusal, match="There is no row 'handlings!99'"):
        decided_cell(sheet_of(BIRD).season(), "handlings!99", "net_g", "1")


def test_a_large_sheet_is_searched_by_its_rare_texts(monkeypatch):
    """Only rows that share a rare text are compared one by one, not all with every decision."""
    rng = random.Random(1)  # noqa: S311 - draws trials, keeps no secret
    rows = [
        BIRD | {"ring": f"SV{at:06}", "tag": str(at), "net_g": str(at % 300), "wing_mm": str(at % 97)}
        for at in range(3_000)
    ]
    sheet = sheet_of(*rows)
    typed = sheet.season()
    cells = [decided_cell(typed, f"handlings!{rng.randrange(2, 3_002)}", "net_g", "X") for _ in range(300)]
    decisions = [Decision(str(at), "", "AB", "amend", (cell,)) for at, cell in enumerate(cells)]
    compared = []
    find = row_texts.RowTexts._candidates

    def counting(self, columns, codes, number):
        found = find(self, columns, codes, number)
        compared.append(len(found))
        return found

    monkeypatch.setattr(row_texts.RowTexts, "_candidates", counting)
    placed = place(sorted_anew(rng, sheet).season(), decisions)
    assert placed.orphans == ()
    assert sum(map(len, placed.at.values())) == len(decisions)
    assert sum(compared) <= 2 * len(decisions)

"""A season finds its tables and its cells."""

from __future__ import annotations

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from typed_season import typed_season

from audit.season import Column, Season, Table, row_label, split_label

SEASON = typed_season(
    handlings=[
        {"date": "2026-06-01", "box": "SL-01", "ring": "SV01001", "gross_g": 395.5, "tag": None},
        {"date": "2026-06-02", "box": "SL-02", "ring": "SV01002", "gross_g": None, "tag": "999000000000001"},
    ],
    boxes=[{"box": "SL-01"}],
)


@given(st.text(), st.integers(1, 2**20))
def test_a_label_can_be_taken_apart_whatever_the_sheet_is_called(sheet, row):
    assert split_label(row_label(sheet, row)) == (sheet, row)


def test_has():
    assert SEASON.has("handlings")
    assert SEASON.has("handlings", "gross_g", "box")
    assert not SEASON.has("handlings", "gross_g", "wing_mm")
    assert not SEASON.has("visits")
    assert not SEASON.has("visits", "date")


def test_a_cell_knows_its_place_and_its_row():
    cell = SEASON.cell("handlings!3", "ring")
    assert (cell.sheet, cell.row, cell.address, cell.column, cell.field) == (
        "handlings",
        3,
        "C3",
        "ring",
        "ring",
    )
    assert cell.observed == "SV01002"
    assert cell.label == "handlings!3"
    assert cell.marks.box == "SL-02"
    assert cell.marks.tag == "999000000000001"


def test_an_empty_cell_is_empty_text():
    assert SEASON.cell("handlings!3", "gross_g").observed == ""
    assert SEASON.cell("handlings!2", "tag").observed == ""
    assert SEASON.cell("handlings!2", "tag").marks.tag == ""


def test_a_column_that_is_absent_gives_the_row():
    cell = SEASON.cell("handlings!2", "wing_mm")
    assert (cell.address, cell.column, cell.observed) == ("2", "", "")


@pytest.mark.parametrize("label", ["handlings!9", "visits!2"])
def test_a_row_that_is_absent(label):
    with pytest.raises(KeyError):
        SEASON.cell(label, "ring")


def test_a_table_of_two_sheets_finds_each_column_where_it_stands():
    labels = pd.Index(["May!4", "June!2"], dtype="str")
    frame = pd.DataFrame({"box": ["SL-01", "SL-02"], "ring": ["SV1", "SV2"]}, index=labels, dtype="str")
    columns = {
        ("May", "box"): Column("Box", "A"),
        ("May", "ring"): Column("Ring", "B"),
        ("June", "box"): Column("Nest box", "D"),
        ("June", "ring"): Column("Ring no", "C"),
    }
    season = Season("two", {"handlings": Table("handlings", frame, frame, columns)})
    assert season.cell("May!4", "ring").address == "B4"
    assert season.cell("June!2", "ring").address == "C2"
    assert season.cell("June!2", "box").column == "Nest box"

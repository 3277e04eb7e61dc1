"""One cell typed anew: as if the file had been typed that way."""

from __future__ import annotations

import datetime as dt
from functools import cache

import pandas as pd
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from audit.checking import read_season
from audit.declarations import load_declarations
from audit.intake import amending
from audit.intake.amending import amend, amend_all
from audit.intake.values import read_column
from audit.refusal import Refusal

declared = cache(load_declarations)

#: A sheet with a unit in a header, ditto marks, a decimal comma, short dates and a column of its own.
SHEET = {
    "Date": ["4.5.2026", "4.5.2026", "5.5.2026", '"', "17.5.2026", "18.5.2026"],
    "Time": ["9:30", "9.45", "", "10:15", "0815", "11h20"],
    "Box": ["SL-01", '"', "SL-02", "SL-02", "sl 03", "SL-04"],
    "Species": ["Barn owl", "Barn owl", '"', "Kestrel", "barn owl", "Barn owl"],
    "Ring": ["SV01001", "SV01002", "SV01003", "SV01004", "SV01005", "SV01006"],
    "Ring leg": ["R", "R", "left", "", "R", "L"],
    "Tag": ["999104190000001", "999 104190000002", "", "999104190000004", "9.991E+14", "999104190000006"],
    "Age": ["1", "1", "1", "4", "1", "1"],
    "Gross": ["310,5", "395", "0.402 kg", "288", "", "371"],
    "Bag": ["22", "22", '"', "22", "", "24,5"],
    "Net": ["288,5", "373", "380", "266?", "(301)", "346,5"],
    "Wing (cm)": ["20,5", "18.2", "19", "205 mm", "", "21,1"],
    "Brood size": ["3", "3", "2", "2", "1", "1"],
    "Sex": ["f", "m", "", "?", "U", "F"],
    "Ringer": ["AB", '"', "IP", "IP", "MK", "AB"],
    "Own remark": ["fat", "", "", "runt", "", ""],
}
FIELDS = {
    "date": "Date",
    "time": "Time",
    "box": "Box",
    "species": "Species",
    "ring": "Ring",
    "ring_leg": "Ring leg",
    "tag": "Tag",
    "age": "Age",
    "gross_g": "Gross",
    "bag_g": "Bag",
    "net_g": "Net",
    "wing_mm": "Wing (cm)",
    "brood_size": "Brood size",
    "sex": "Sex",
    "ringer": "Ringer",
    "Own remark": "Own remark",
}
TEXTS = {
    "date": ["", "5/13/2026", "13/5/2026", "2026-05-06", "6 May", "31.2.2026", "46147", '"', "5.6.26", "x"],
    "time": ["", "25:10", "9.3", "0.5", "7 pm", '"', "noon"],
    "box": ["", "SL-99", "5-Apr", '"', "sl01"],
    "species": ["", "Barn owl?", '"', "owl", "#N/A"],
    "ring": ["", "SV1", "1.23E+05", '"', "'SV01007", "SV01,001"],
    "ring_leg": ["", "right", "both", '"'],
    "tag": [
        "",
        "99104190000001",
        "9,99104E+14",
        "999104190000000",
        '"',
        "999-104190000007",
        "O99104190000001",
    ],
    "age": ["", "1Y", "nestling", "9", '"'],
    "gross_g": ["", "1.234", "1,234", "31O", "0.31 kg", "22+288", '"', "310 mm", "-5", "4.5.2026"],
    "bag_g": ["", "22.5", '"', "0", "22 g"],
    "net_g": ["", "288", "~288", "288.55", "1.250", "two hundred"],
    "wing_mm": ["", "20", "20.5 cm", "205mm", '"'],
    "brood_size": ["", "3.5", "three", "3?", '"', "1e9"],
    "sex": ["", "female", "x", '"'],
    "ringer": ["", "ab", '"'],
    "Own remark": ["", "thin", '"'],
}


def read(columns):
    return read_season({"handlings": pd.DataFrame(columns, dtype="str")}, schemas=declared())


def same(one, other):
    """Compare two seasons, cell by cell and reading by reading."""
    assert list(one.tables) == list(other.tables)
    for name in one.tables:
        pd.testing.assert_frame_equal(one.frame(name), other.frame(name))
        pd.testing.assert_frame_equal(one.tables[name].typed, other.tables[name].typed)
        assert one.tables[name].columns == other.tables[name].columns
    assert one.readings == other.readings
    assert (one.name, one.source) == (other.name, other.source)


def scale_of(season, field):
    written = season.tables["handlings"].columns["handlings", field].written
    return written and written.scale


def retyped(row, field, text):
    columns = {head: list(cells) for head, cells in SHEET.items()}
    columns[FIELDS[field]][row] = text
    return read(columns)


@pytest.mark.parametrize(
    ("field", "text"), [(field, text) for field, texts in TEXTS.items() for text in texts]
)
@pytest.mark.parametrize("row", [0, 2, 5])
def test_a_cell_is_read_as_the_file_would_have_been(field, text, row):
    amended = amend(read(SHEET), declared(), f"handlings!{row + 2}", field, text)
    same(amended, retyped(row, field, text))


@given(st.sampled_from(sorted(FIELDS)), st.integers(0, 5), st.text("0123456789.,-/ SVmgc\"?'O", max_size=8))
@settings(max_examples=40, deadline=None)
@example("date", 0, "13/4/2026")
@example("gross_g", 3, "0,3")
def test_any_text_in_any_cell(field, row, text):
    amended = amend(read(SHEET), declared(), f"handlings!{row + 2}", field, text)
    there = retyped(row, field, text)
    # whether the unit of a header holds is settled when the file is read, and so are the notices about it
    if scale_of(amended, field) == scale_of(there, field):
        same(amended, there)


@given(
    st.lists(
        st.tuples(
            st.sampled_from(sorted(FIELDS)), st.integers(0, 5), st.sampled_from(["", "7", '"', "4.5.2026"])
        ),
        min_size=1,
        max_size=6,
    )
)
@settings(max_examples=30, deadline=None)
def test_back_and_forth_gives_the_same_season(edits):
    season = read(SHEET)
    amended = season
    for field, row, text in edits:
        amended = amend(amended, declared(), f"handlings!{row + 2}", field, text)
    for field, row, _ in edits:
        amended = amend(amended, declared(), f"handlings!{row + 2}", field, SHEET[FIELDS[field]][row])
    same(amended, season)


def test_what_the_file_stored_comes_back():
    frame = pd.DataFrame(
        {
            "date": [dt.datetime(2026, 5, 4), dt.datetime(2026, 5, 5)],
            "box": ["SL-01", "SL-02"],
            "ring": ["SV01001", "SV01002"],
            "tag": [999104190000001, 9.99104190000002e14],
            "gross_g": [310.0, 295.5],
        }
    )
    season = read_season({"handlings": frame}, schemas=declared())
    for field in frame.columns:
        text = season.tables["handlings"].typed.loc["handlings!2", field]
        away = amend(season, declared(), "handlings!2", field, "9")
        assert away.tables["handlings"].typed.loc["handlings!2", field] == "9"
        same(amend(away, declared(), "handlings!2", field, text), season)


def test_nothing_is_changed_in_the_season_that_was():
    season, before = read(SHEET), read(SHEET)
    amended = amend(season, declared(), "handlings!3", "net_g", "n/a?")
    same(season, before)
    assert amended.notices == season.notices
    assert amended.readings != season.readings
    shared = amended.frame("handlings")["wing_mm"].array
    assert (shared == season.frame("handlings")["wing_mm"].array).sum() == len(shared.dropna())


def test_the_unit_stays_as_it_was_found():
    amended = amend(read(SHEET), declared(), "handlings!2", "wing_mm", "205")
    assert amended.frame("handlings")["wing_mm"].to_list()[:2] == [2050.0, 182.0]


def test_dittos_below_follow():
    amended = amend(read(SHEET), declared(), "handlings!2", "box", "SL-09")
    assert amended.frame("handlings")["box"].to_list()[:3] == ["SL-09", "SL-09", "SL-02"]


def test_one_sheet_of_two():
    columns = {head: SHEET[head] for head in ("Date", "Box", "Ring", "Gross")}
    more = {**columns, "Sex": SHEET["Sex"], "Ring": [f"SV0200{i}" for i in range(6)]}
    sheets = {"Ringing May": pd.DataFrame(columns), "Ringing June": pd.DataFrame(more)}
    season = read_season(sheets, schemas=declared())
    amended = amend(season, declared(), "Ringing June!4", "gross_g", "0,4 kg")
    sheets["Ringing June"].loc[2, "Gross"] = "0,4 kg"
    same(amended, read_season(sheets, schemas=declared()))
    amended = amend(season, declared(), "Ringing June!4", "sex", "F")
    sheets = {"Ringing May": pd.DataFrame(columns), "Ringing June": pd.DataFrame(more)}
    sheets["Ringing June"].loc[2, "Sex"] = "F"
    same(amended, read_season(sheets, schemas=declared()))


def test_a_row_that_is_not_there():
    with pytest.raises(Refusal, match=r"There is no row 'handlings!99' in this season") as refused:
        amend(read(SHEET), declared(), "handlings!99", "net_g", "1")
    assert "'handlings'" in refused.value.cure


def test_a_column_that_is_not_there():
    with pytest.raises(Refusal, match=r"There is no column 'hatch_date' in sheet 'handlings'") as refused:
        amend(read(SHEET), declared(), "handlings!2", "hatch_date", "1")
    assert "'net_g'" in refused.value.cure


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["Ringing May", "Ringing June"]),
            st.integers(0, 5),
            st.sampled_from(sorted(FIELDS)),
            st.sampled_from(["", "7", '"', "4.5.2026", "13/4/2026", "0,4 kg", "?"]),
        ),
        max_size=12,
    )
)
@settings(max_examples=25, deadline=None)
def test_all_at_once_is_one_after_the_other(edits):
    june = SHEET | {"Ring": [f"SV0200{row}" for row in range(6)]}
    sheets = {"Ringing May": SHEET, "Ringing June": june}
    season = read_season(
        {name: pd.DataFrame(sheet, dtype="str") for name, sheet in sheets.items()}, schemas=declared()
    )
    each = [(f"{sheet}!{row + 2}", field, text) for sheet, row, field, text in edits]
    one_by_one = season
    for edit in each:
        one_by_one = amend(one_by_one, declared(), *edit)
    same(amend_all(season, declared(), each), one_by_one)


def test_the_first_edit_that_has_no_place_is_refused():
    edits = [("handlings!2", "net_g", "1"), ("handlings!99", "net_g", "1"), ("handlings!2", "moon", "1")]
    with pytest.raises(Refusal, match=r"There is no row 'handlings!99'"):
        amend_all(read(SHEET), declared(), edits)


def test_each_column_is_read_once(monkeypatch):
    read_fields = []

    def counting(cells, labels, field, *args, **kwargs):
        read_fields.append(field.name)
        return read_column(cells, labels, field, *args, **kwargs)

    monkeypatch.setattr(amending, "read_column", counting)
    edits = [(f"handlings!{row}", field, "1") for field in ("net_g", "age") for row in range(2, 8)]
    amend_all(read(SHEET), declared(), edits)
    assert read_fields == ["net_g", "age"]

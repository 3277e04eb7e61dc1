"""Any column: dtypes, the text as typed, and that nothing is too odd to be read."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from typed_column import DECLARED, column, moment, plain, values

from audit.declarations.tables import DTYPES
from audit.intake.grid import RawCell, stored_text
from audit.intake.values import read_column

FIELDS = [(table.name, field.name) for table in DECLARED.tables.values() for field in table.fields]
KINDS = {field.kind: (table.name, field.name) for table in DECLARED.tables.values() for field in table.fields}
#: One column of every kind, and those that are read in a way of their own.
TELLING = sorted(
    {*KINDS.values(), *(("handlings", name) for name in ("tag", "ring", "box", "bag_g", "age", "sex"))}
)

ODD = st.one_of(
    st.text(max_size=30),
    st.text(alphabet="0123456789.,-/ :EOIlS?~()½°gcm\"'", max_size=16),
    st.integers(),
    st.integers(min_value=10**14, max_value=10**16),
    st.floats(),
    st.booleans(),
    st.none(),
    st.datetimes(),
    st.datetimes(timezones=st.just(dt.UTC)),
    st.dates(),
    st.times(),
    st.timedeltas(),
)


@st.composite
def odd_cells(draw):
    value = draw(ODD)
    formula = draw(st.sampled_from(["", "", "", "=395-22", "=F3", "=((1)"]))
    text = formula or (value if isinstance(value, str) else stored_text(value))
    number_format = draw(st.sampled_from(["", "", "0000000", '"SV"00000', "General", "0.00E+00"]))
    return RawCell(value, text, number_format, formula, merged=draw(st.sampled_from([False, False, True])))


@pytest.mark.parametrize(("table", "field"), TELLING)
@settings(max_examples=50)
@given(cells=st.lists(odd_cells(), max_size=8))
def test_nothing_is_too_odd_and_nothing_typed_is_lost(table, field, cells):
    declared = DECLARED.tables[table].field(field)
    labels = [f"{table}!{i + 2}" for i in range(len(cells))]
    read = read_column(cells, labels, declared, DECLARED)
    assert list(read.typed) == [cell.text for cell in cells]
    assert list(values(read).index) == list(read.typed.index) == labels
    assert str(values(read).dtype) == DTYPES[declared.kind]
    told = [reading.label for reading in read.readings]
    assert len(set(told)) == len(told)
    outcomes = DECLARED.rules["reading"].outcomes
    for reading in read.readings:
        assert (
            reading.kind in outcomes
            or reading.kind in DECLARED.rules["reading"].limits["without_finding"].value
        )
        assert reading.remark
        assert not reading.remark.endswith(".")
        assert reading.typed == cells[labels.index(reading.label)].text


@pytest.mark.parametrize("kind", sorted(KINDS))
@given(data=st.data())
def test_what_is_missing_is_told_or_was_empty(kind, data):
    table, field = KINDS[kind]
    value = data.draw(st.text(alphabet="0123456789.,-/: EOg?xyzM", min_size=1, max_size=12))
    read = column(field, value, table=table)
    if plain(read)[0] is None and not read.readings:
        words = {
            str(word).casefold()
            for key in ("any", "numbers", "codes")
            for word in DECLARED.settings[f"reading.missing.{key}"].value
        }
        bare = " ".join(value.split()).casefold()
        # a mark of doubt beside a mark for nothing is still nothing: '?/'
        assert {bare, bare.strip("? ")} & {"", *words}


@pytest.mark.parametrize("kind", sorted(DTYPES))
def test_empty_columns_have_their_dtype(kind):
    table, field = KINDS[kind]
    for stored in ((), (None, None), ("", " ")):
        read = column(field, *stored, table=table)
        assert str(values(read).dtype) == DTYPES[kind]
        assert values(read).isna().all()
        assert read.readings == ()


def test_long_texts_do_no_harm():
    for table, field in FIELDS:
        for text in (
            "?" * 5000,
            "(" * 5000,
            "9" * 5000,
            "1+" * 5000 + "1",
            "~(" * 3000,
            " ".join("4" * 4000),
        ):
            column(field, text, table=table)


@pytest.mark.parametrize("as_text", [False, True], ids=["workbook", "text file"])
def test_a_usual_season_is_read_without_a_remark(as_text):
    fields = DECLARED.tables["handlings"].fields
    columns = []
    for field in fields:
        stored = [_usual(field, i) for i in range(500)]
        if as_text:
            stored = [stored_text(value) for value in stored]
        columns.append([RawCell(value, stored_text(value)) for value in stored])
    labels = [f"handlings!{i + 2}" for i in range(500)]
    for field, cells in zip(fields, columns, strict=True):
        assert read_column(cells, labels, field, DECLARED).readings == ()


def _usual(field, i):
    match field.kind:
        case "number":
            return 20 + (i * 37 % 3800) / 10
        case "integer":
            return 1 + i % 7
        case "date":
            return moment(2026, 5, 1 + i % 28)
        case "time":
            return dt.time(9 + i % 9, i * 7 % 60)
    named = {
        "tag": f"99900000{i + 1:07}",
        "ring": f"SV{i:05}",
        "box": f"SL-{i % 90:02}",
        "remarks": f"remark {i}",
    }
    return named.get(field.name, "L" if field.name.endswith("leg") else "AB")

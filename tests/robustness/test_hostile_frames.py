"""No typed season, however odd, makes a rule fail, and no finding points at a cell that is not there."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from robustness.other_rounds import TEAMS, other_season
from typed_season import typed_season

from audit.checking import check
from audit.declarations import load_declarations
from audit.rules.round import FAULT

#: Each example audits a season twice; a failing one is small enough as it is.
FEW = settings(
    max_examples=6,
    deadline=None,
    phases=(Phase.explicit, Phase.generate),
    suppress_health_check=list(HealthCheck),
)
DECLARED = load_declarations()
DAY = dt.date(2025, 6, 3)
PLAIN = other_season(7, TEAMS["ten_boxes"])
NEEDED = {
    table: {f.name for f in declaration.fields if f.needed} for table, declaration in DECLARED.tables.items()
}
ODD = {
    "date": [None, dt.date(1900, 1, 1), dt.date(2100, 12, 31), dt.date(2024, 2, 29), DAY],
    "datetime": [
        None,
        dt.datetime(1900, 1, 1),
        dt.datetime(2100, 1, 1, 23, 59, 59),
        dt.datetime(2025, 6, 3, 9),
    ],
    "number": [None, -9e18, 9e18, -1.0, -0.0, 0.0, 1e-300, 1e15, 12345678.9, 0.1, 300.0],
    "integer": [None, -(2**63), 2**63 - 1, -1, 0, 1, 3, 999_999],
    "boolean": [None, True, False],
    "time": [None, "", "25:61", "09:30", "noon"],
    "code": [
        None,
        "",
        "!",
        "SL-01!2",
        "Ø",
        "0",
        "-",
        "00000",
        "9" * 40,
        "SV01001",
        "SV01002",
        "ÄÖ-12",
        "٣٤",
        "²",
    ],
    "string": [
        None,
        "",
        " ",
        "1",
        "L",
        "R",
        "M",
        "ringed",
        "re-encountered",
        "雪鸮",
        "Harfang des neiges",
        "\x1f",
        "💀",
    ],
}


def report_of(tables):
    """Audit: no rule fails, and a report points at cells that exist."""
    season = typed_season(DECLARED, **tables)
    report = check(season, schemas=DECLARED)
    assert [part for part in report.not_run if part.reason.startswith(FAULT)] == []
    for finding in report.findings:
        assert finding.message.strip()
        assert "nan" not in finding.message.casefold().split()
        for cell in (*(s.cell for s in finding.suspects), *finding.witnesses):
            frame = season.tables[cell.sheet].frame
            assert cell.label in frame.index
            assert 2 <= cell.row < len(frame) + 2
        for suspect in finding.suspects:
            assert 0 <= suspect.p_error <= 1
            assert suspect.p_fix is None or 0 <= suspect.p_fix <= 1
    return report


def the_same_each_time(tables):
    assert report_of(tables) == check(typed_season(DECLARED, **tables), schemas=DECLARED)


def of_table(table, value):
    return {f.name: value(f.kind) for f in DECLARED.tables[table].fields}


@pytest.mark.parametrize("rows", [1, 2, 5, 12])
def test_a_season_of_few_handlings(rows):
    report_of({**PLAIN, "handlings": PLAIN["handlings"][:rows]})


@pytest.mark.parametrize("field", [f.name for f in DECLARED.tables["handlings"].fields])
def test_a_column_that_is_empty_throughout(field):
    report_of({**PLAIN, "handlings": [{**row, field: None} for row in PLAIN["handlings"]]})


@pytest.mark.parametrize("field", ["ring", "tag", "box", "date", "net_g", "wing_mm", "brood_size", "time"])
def test_a_column_that_says_the_same_throughout(field):
    first = PLAIN["handlings"][0][field]
    report_of({**PLAIN, "handlings": [{**row, field: first} for row in PLAIN["handlings"]]})


@pytest.mark.parametrize("table", [name for name in PLAIN if name != "handlings"])
def test_a_table_that_is_odd(table):
    report_of({name: rows for name, rows in PLAIN.items() if name != table})
    report_of({**PLAIN, table: PLAIN[table] * 2})
    report_of({**PLAIN, table: [{**row, **dict.fromkeys(row)} for row in PLAIN[table]]})
    needed = [{key: value for key, value in row.items() if key in NEEDED[table]} for row in PLAIN[table]]
    report_of({**PLAIN, table: needed})


def test_every_row_twice():
    report_of({**PLAIN, "handlings": [row for row in PLAIN["handlings"] for _ in range(2)]})
    report_of({**PLAIN, "handlings": PLAIN["handlings"] * 2})


def test_only_what_is_needed():
    report_of({"handlings": [{k: row[k] for k in ("date", "box", "ring")} for row in PLAIN["handlings"]]})


@pytest.mark.parametrize("tables", [("handlings",), tuple(DECLARED.tables)])
def test_tables_with_columns_but_no_rows(tables):
    season = typed_season(DECLARED, **{t: [of_table(t, lambda _: None)] for t in tables})
    for table in season.tables.values():
        object.__setattr__(table, "frame", table.frame.iloc[:0])
        object.__setattr__(table, "typed", table.typed.iloc[:0])
    report = check(season, schemas=DECLARED)
    assert report.findings == ()
    assert [part for part in report.not_run if part.reason.startswith(FAULT)] == []


@pytest.mark.parametrize("kind", sorted(ODD))
def test_odd_values_of_one_kind_in_a_plain_season(kind):
    rng = np.random.default_rng(11)
    names = {f.name for f in DECLARED.tables["handlings"].fields if f.kind == kind}
    rows = [
        {
            k: ODD[kind][int(rng.integers(len(ODD[kind])))] if k in names and rng.random() < 0.4 else v
            for k, v in row.items()
        }
        for row in PLAIN["handlings"]
    ]
    report_of({**PLAIN, "handlings": rows})


@st.composite
def odd_tables(draw):
    """Tables whose cells are odd values of the declared kind, with any of the columns absent."""
    tables = {}
    for table in (
        "handlings",
        # in order, or every run of Python would draw other seasons
        *sorted(draw(st.sets(st.sampled_from([t for t in DECLARED.tables if t != "handlings"])))),
    ):
        fields = [f for f in DECLARED.tables[table].fields if f.name in NEEDED[table] or draw(st.booleans())]
        row = st.fixed_dictionaries({f.name: st.sampled_from(ODD[f.kind]) for f in fields})
        tables[table] = draw(st.lists(row, min_size=1, max_size=6))
    return tables


@FEW
@given(odd_tables())
def test_any_odd_season(tables):
    the_same_each_time(tables)


def damaged(seed):
    """A plain season in which some cells say something else."""
    rng = np.random.default_rng(seed)
    rows = [dict(row) for row in PLAIN["handlings"]]
    kinds = {f.name: f.kind for f in DECLARED.tables["handlings"].fields}
    for _ in range(int(rng.integers(1, 40))):
        row, other = (rows[int(rng.integers(len(rows)))] for _ in range(2))
        field = sorted(row)[int(rng.integers(len(row)))]
        odd = ODD[kinds[field]]
        row[field] = odd[int(rng.integers(len(odd)))] if rng.random() < 0.7 else other[field]
    return {**PLAIN, "handlings": rows}


@FEW
@given(st.integers(0, 10**6))
def test_a_plain_season_with_odd_cells(seed):
    the_same_each_time(damaged(seed))


def test_numbers_beyond_all_measures_are_read_as_unreadable():
    frame = pd.DataFrame(
        {
            "date": "2025-06-03",
            "box": "K01",
            "ring": [f"VW0100{i}" for i in range(6)],
            "wing_mm": [float("inf"), float("-inf"), 1e308, -1e300, 150.0, 1e-300],
            "gross_g": ["inf", "1e308", "-1e400", "9" * 400, "380", "nan"],
            "bag_g": [20.0, 1e300, 20.0, 20.0, float("nan"), 20.0],
            "net_g": [1e300, 300.0, -1e300, 1e17, 350.0, 0.0],
            "age_days": [1e300, -1e300, 30.0, 30.0, 30.0, 1e18],
            "brood_size": [1e300, 6.0, 6.0, -1e300, 6.0, 6.0],
            "age": "1",
        }
    )
    report = check({"handlings": frame}, schemas=DECLARED)
    assert [part for part in report.not_run if part.reason.startswith(FAULT)] == []
    unreadable = {
        (s.cell.row, s.cell.field) for f in report.findings for s in f.suspects if "reading" in f.rule
    }
    assert {(2, "wing_mm"), (3, "wing_mm"), (4, "wing_mm"), (2, "gross_g"), (3, "bag_g")} <= unreadable

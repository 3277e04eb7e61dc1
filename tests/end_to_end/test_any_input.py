"""Whatever a cell, a column or a table holds, the audit ends with a report: no fault and no warning."""

from __future__ import annotations

from functools import cache
from itertools import cycle

import pandas as pd
import pytest
from end_to_end.season_files import small_season
from invented import Style, invented_season

import audit
from audit.declarations import load_declarations
from audit.refusal import Refusal

#: What hands, spreadsheets and malice leave in cells.
HOSTILE = (
    None,
    "",
    "?",
    "-",
    "x",
    "0",
    "-1",
    "1e308",
    "99999999999999999999",
    "NaN",
    "inf",
    "01.13.2026",
    "2026-02-30",
    "31.12.9999",
    "0001-01-01",
    "24:61",
    "=1/0",
    "#REF!",
    "12,5,3",
    "1'000",
    '"',
    "½",
    "٣٤٥",
    "\u202e12",
    "\x07",
    "line\nbreak",
    "9" * 400,
    "a" * 4000,
    "SL-999999999999",
    "SV99999999999999999999",
    "0" * 15,
    "<b>&amp;",
    "%s{0}\\1",
    3.5,
    -0.0,
    10**18,
    True,
    pd.Timestamp("2199-12-31 23:59"),
)
#: With a row for each of these.
WIDE = invented_season(3, Style(boxes=8))
TABLES = tuple(small_season())
FIELDS = tuple(small_season()["handlings"][0])


@cache
def declared():
    return load_declarations()


def audited(season):
    """Audit a season of frames; the needed columns may be refused, nothing else may go wrong."""
    frames = {table: pd.DataFrame(rows, dtype=object) for table, rows in season.items()}
    try:
        report = audit.check(frames, schemas=declared())
    except Refusal:
        return None
    for row in report.rows():
        # every finding points at a cell that is there
        assert row["observed"] is not None
        assert 2 <= row["row"] <= len(season[row["sheet"]]) + 1
    return report


@pytest.mark.parametrize("field", FIELDS)
def test_a_column_of_anything(field):
    season = {table: [dict(row) for row in rows] for table, rows in WIDE.items() if rows}
    assert len(season["handlings"]) >= len(HOSTILE)
    for row, value in zip(season["handlings"], cycle(HOSTILE), strict=False):
        row[field] = value
    audited(season)


@pytest.mark.parametrize("table", [table for table in TABLES if table != "handlings"])
def test_a_table_of_anything(table):
    season = small_season()
    values = cycle(HOSTILE)
    for row in season[table]:
        row.update(dict(zip(row, values, strict=False)))
    audited(season)


@pytest.mark.parametrize("value", [None, "x", "31.12.9999"], ids=repr)
def test_every_column_but_the_box_says_the_same(value):
    season = small_season()
    for rows in season.values():
        for row in rows:
            row.update({field: value for field in row if field != "box"})
    audited(season)


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.parametrize("left", [0, 1])
def test_a_table_of_few_rows(table, left):
    season = small_season()
    season[table] = season[table][:left]
    if left == 0 and table == "handlings":
        season = {table: [dict.fromkeys(("date", "box", "ring"), None)]}
    assert audited({name: rows for name, rows in season.items() if rows}) is not None


@pytest.mark.parametrize("field", FIELDS)
def test_a_column_that_is_not_there(field):
    season = small_season()
    for row in season["handlings"]:
        del row[field]
    report = audited(season)
    if field in ("date", "box", "ring"):
        assert report is None
        return
    assert report.above_notes == ()


def test_a_season_typed_twice():
    season = small_season()
    season["handlings"] = season["handlings"] * 2
    report = audited(season)
    assert report.above_notes

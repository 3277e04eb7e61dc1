"""Data frames as a source: rows count from 2, as if the column names had been typed in row 1."""

from __future__ import annotations

import datetime as dt
import decimal

import numpy as np
import pandas as pd
import pytest

from audit.checking import read_season
from audit.intake.frames import sheets_from_frames


def texts(frame):
    return [[cell.text for cell in row] for row in sheets_from_frames({"t": frame})[0].rows]


def test_values_of_every_kind_are_kept():
    moment = "2026-05-04 09:30:00"
    values = [
        ("999000000012345", "999000000012345"),
        (999000000012345, "999000000012345"),
        (np.int64(7), "7"),
        (np.float64(395.0), "395"),
        (20.5, "20.5"),
        (True, "TRUE"),
        (np.bool_(False), "FALSE"),
        (pd.Timestamp(moment), moment),
        (pd.Timestamp("2026-05-04"), "2026-05-04"),
        (pd.Timestamp(moment, tz="UTC"), moment),
        (np.datetime64("2026-05-04"), "2026-05-04"),
        (dt.date.fromisoformat("2026-05-04"), "2026-05-04"),
        (dt.time.fromisoformat("09:30"), "09:30"),
        (pd.Timedelta(hours=26), "26:00"),
        (decimal.Decimal("395.50"), "395.50"),
        (pd.Period("2026-05", "M"), "2026-05"),
        (" two  words ", " two  words "),
    ]
    frame = pd.DataFrame({"x": pd.Series([value for value, _ in values], dtype="object")})
    assert texts(frame) == [["x"], *([text] for _, text in values)]


@pytest.mark.parametrize("missing", [None, np.nan, pd.NA, pd.NaT, ""])
def test_missing_values_are_empty_cells(missing):
    frame = pd.DataFrame({"x": pd.Series(["a", missing, "b"], dtype="object")})
    assert texts(frame) == [["x"], ["a"], [], ["b"]]


@pytest.mark.parametrize("dtype", ["str", "string", "category", "object"])
def test_text_is_kept_whatever_the_column_type(dtype):
    assert texts(pd.DataFrame({"ring": pd.Series(["0123", "1E5", None], dtype=dtype)})) == [
        ["ring"],
        ["0123"],
        ["1E5"],
    ]


def test_whole_numbers_in_a_column_with_gaps_stay_whole():
    assert texts(pd.DataFrame({"tag": [999000000012345, None]})) == [["tag"], ["999000000012345"]]
    assert texts(pd.DataFrame({"tag": pd.array([999000000012345, None], dtype="Int64")}))[1] == [
        "999000000012345"
    ]


def test_moments_keep_their_milliseconds_and_lose_nanoseconds_quietly():
    frame = pd.DataFrame({"at": [pd.Timestamp("2026-06-04 22:01:02.125000001")]})
    assert texts(frame)[1] == ["2026-06-04 22:01:02.125000"]


def test_names_of_columns_may_be_anything():
    frame = pd.DataFrame([[1, 2, 3]], columns=[("mass", "net"), 7, "date"])
    assert texts(frame)[0] == ["mass net", "7", "date"]


def test_a_season_of_frames_counts_rows_from_two(declared):
    rows = {
        "date": ["2026-05-04", None, "2026-05-05"],
        "box": ["SL-01", None, "SL-02"],
        "ring": ["SV1", None, "SV2"],
    }
    frame = pd.DataFrame(rows, index=["x", "y", "z"])
    season = read_season({"handlings": frame}, schemas=declared)
    assert list(season.frame("handlings").index) == ["handlings!2", "handlings!4"]
    assert (season.name, season.source) == ("season", "data frames")
    assert season.cell("handlings!4", "ring").address == "C4"


def test_a_moment_keeps_its_wall_clock_and_drops_its_zone():
    frame = pd.DataFrame({"at": [pd.Timestamp("2026-05-04 09:30", tz="Europe/Paris")]})
    assert sheets_from_frames({"t": frame})[0].rows[1][0].value == dt.datetime.fromisoformat(
        "2026-05-04 09:30"
    )

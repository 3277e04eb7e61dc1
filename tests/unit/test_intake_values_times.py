"""Times of day, and moments."""

from __future__ import annotations

import datetime as dt

import babel.dates
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.utils.datetime import to_excel
from typed_column import column, moment, one, plain, values


@pytest.mark.parametrize(
    ("typed", "value", "kind"),
    [
        ("9:30", "09:30", ""),
        ("09:30", "09:30", ""),
        ("0930", "09:30", ""),
        ("930", "09:30", ""),
        (930, "09:30", ""),
        ("9h30", "09:30", ""),
        ("9 h 30", "09:30", ""),
        ("9h", "09:00", ""),
        ("9u30", "09:30", ""),
        ("9.30", "09:30", ""),
        ("9,30", "09:30", ""),
        ("9.30 Uhr", "09:30", ""),
        ("9 Uhr 30", "09:30", ""),
        ("21:30:15", "21:30", ""),
        ("9:30 pm", "21:30", ""),
        ("9:30PM", "21:30", ""),
        ("9.30 p.m.", "21:30", ""),
        ("12:15 am", "00:15", ""),
        ("12:15 pm", "12:15", ""),
        ("0:05", "00:05", ""),
        ("2026-05-04 09:30", "09:30", ""),
        (dt.time(9, 30), "09:30", ""),
        (moment(2026, 5, 4, 9, 30, 59), "09:30", ""),
        (dt.timedelta(hours=9, minutes=30), "09:30", ""),
        (0.3958333333, "09:30", ""),
        ("0.3958333333", "09:30", ""),
        (46146.3958333333, "09:30", ""),
        (9.3, "09:30", "number_as_time"),
        ("9.3", "09:30", "number_as_time"),
        (9, "09:00", "number_as_time"),
        ("~9:30", "09:30", "uncertain_mark"),
        ("9:30?", "09:30", "uncertain_mark"),
        ("ca. 9.30", "09:30", "uncertain_mark"),
        ("?", None, ""),
        ("-", None, ""),
        (None, None, ""),
        ("k.A.", None, ""),
        ("25:00", None, "unreadable"),
        ("9:75", None, "unreadable"),
        ("13:30 pm", None, "unreadable"),
        ("24:00", None, "unreadable"),
        ("noon", None, "unreadable"),
        ("9:30-10:15", None, "unreadable"),
        (True, None, "unreadable"),
        (-0.5, None, "unreadable"),
        (dt.timedelta(days=2), None, "unreadable"),
        (float("inf"), None, "unreadable"),
        ("#REF!", None, "unreadable"),
    ],
    ids=repr,
)
def test_times(typed, value, kind):
    assert one("time", typed)[:2] == (value, kind)


@given(st.times(), st.sampled_from(["en_GB", "en_US", "de_DE", "fr_FR", "es_ES", "nl_NL"]))
def test_any_time_as_any_locale_writes_it(time, locale):
    # Babel 2.18, Unicode CLDR
    typed = babel.dates.format_time(time, "short", locale=locale)
    assert one("time", typed) == (time.strftime("%H:%M"), "", "")


@given(st.integers(0, 24 * 60 - 1))
def test_any_fraction_of_a_day(minutes):
    # openpyxl writes the fraction, we read it
    time = dt.time(minutes // 60, minutes % 60)
    assert one("time", float(to_excel(time)))[0] == time.strftime("%H:%M")


@pytest.mark.parametrize(
    ("typed", "value", "kind"),
    [
        ("2026-05-04 21:30:15", moment(2026, 5, 4, 21, 30, 15), ""),
        ("2026-05-04T21:30:15.123", moment(2026, 5, 4, 21, 30, 15, 123000), ""),
        ("2026-05-04 21:30:15,123", moment(2026, 5, 4, 21, 30, 15, 123000), ""),
        ("04.05.2026 21:30:15", moment(2026, 5, 4, 21, 30, 15), ""),
        ("4.5.26, 21:30", moment(2026, 5, 4, 21, 30), ""),
        ("4 May 2026 9:30 pm", moment(2026, 5, 4, 21, 30), ""),
        (moment(2026, 5, 4, 21, 30, 15, 123000), moment(2026, 5, 4, 21, 30, 15, 123000), ""),
        ("2026-05-04T21:30:15+02:00", moment(2026, 5, 4, 21, 30, 15), "zone_dropped"),
        ("2026-05-04T21:30:15Z", moment(2026, 5, 4, 21, 30, 15), "zone_dropped"),
        (dt.datetime(2026, 5, 4, 21, 30, tzinfo=dt.UTC), moment(2026, 5, 4, 21, 30), "zone_dropped"),
        ("2026-05-04", moment(2026, 5, 4), "no_time"),
        ("2026-05-04 25:30", None, "unreadable"),
        ("2026-02-30 21:30", None, "unreadable"),
        ("21:30", None, "unreadable"),
        ("rubbish", None, "unreadable"),
        ("", None, ""),
        (None, None, ""),
    ],
    ids=repr,
)
def test_moments(typed, value, kind):
    assert one("read_at", typed, table="tag_reads")[:2] == (value, kind)
    # the same among cells of other kinds
    assert one("read_at", typed, moment(2026, 5, 4, 9), None, table="tag_reads")[:2] == (value, kind)


def test_what_is_said_of_zones_and_missing_times():
    read = column(
        "read_at", "2026-05-04T21:30:15+02:00", "2026-05-04T21:31+02:00", "2026-05-04", table="tag_reads"
    )
    assert [reading.remark for reading in read.readings] == [
        (
            "'2026-05-04T21:30:15+02:00' has a time zone; the clock time was kept as it stands; 1 "
            "more of this column "
            "likewise"
        ),
        "'2026-05-04' has no time of day; it was read as midnight",
    ]


@given(st.datetimes(moment(2020, 1, 1), moment(2035, 1, 1)))
def test_any_moment_to_the_millisecond(moment):
    moment = moment.replace(microsecond=moment.microsecond // 1000 * 1000)
    forms = [moment.isoformat(sep=" ", timespec="milliseconds"), moment, float(to_excel(moment))]
    for typed in forms:
        read = column("read_at", typed, table="tag_reads")
        # openpyxl keeps day numbers to the microsecond or so
        assert abs(plain(read)[0] - moment) <= dt.timedelta(milliseconds=1)
    many = column("read_at", *forms[:1], None, table="tag_reads")
    assert values(many).iloc[0] == pd.Timestamp(moment)

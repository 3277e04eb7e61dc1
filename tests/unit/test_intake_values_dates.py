"""Dates as people type them, and the order of day and month in a column."""

from __future__ import annotations

import datetime as dt

import babel.dates
import pandas as pd
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from openpyxl.utils.datetime import MAC_EPOCH, WINDOWS_EPOCH, to_excel
from typed_column import column, moment, one, plain, reading_at, values

from audit.intake.grid import RawCell

MAY4 = dt.date(2026, 5, 4)
LOCALES = ["en_GB", "de_DE", "fr_FR", "es_ES", "nl_NL"]
SEASON = st.dates(dt.date(2020, 1, 1), dt.date(2035, 12, 31))


def day(read, row=0):
    value = plain(read)[row]
    return None if value is None else value.date()


@pytest.mark.parametrize(
    "typed",
    [
        "2026-05-04",
        "4.5.2026",
        "04.05.2026",
        "4.5.26",
        "4/5/2026",
        "04/05/26",
        "4-5-2026",
        "4 5 2026",
        "2026/5/4",
        "2026.05.04",
        "4 May 2026",
        "4 May 26",
        "4-May-26",
        "4May2026",
        "04MAY26",
        "May 4, 2026",
        "May 4th, 2026",
        "4th May 2026",
        "4th of May 2026",
        "4. Mai 2026",
        "4.Mai 26",
        "Mo, 4. Mai 2026",
        "Montag, den 4. Mai 2026",
        "4 mai 2026",
        "lundi 4 mai 2026",
        "le 4 mai 2026",
        "4 de mayo de 2026",
        "lunes, 4 de mayo de 2026",
        "4 mei 2026",
        "04-mei-2026",
        "maandag 4 mei 2026",
        "20260504",
        "04052026",
        "2026-05-04 09:30",
        "2026-05-04T09:30:15",
        "04.05.2026 09:30",
        "4/5/2026 9:30 PM",
        "\u00a04.5.2026 ",
        "'4.5.2026",
        "4.5.2026.",
        "2026 May 4",
        "4.\u202f5.\u202f2026",
        moment(2026, 5, 4),
        moment(2026, 5, 4, 9, 30),
        dt.date(2026, 5, 4),
        pd.Timestamp(2026, 5, 4),
        20260504,
        4052026,
    ],
    ids=repr,
)
def test_one_day_in_many_forms(typed):
    # the cell below shows that the day comes first
    read = column("date", typed, "25.05.2026", "26/05/2026")
    assert (day(read), read.readings) == (MAY4, ())
    assert str(values(read).dtype) == "datetime64[us]"


@pytest.mark.parametrize(
    "typed", ["", " ", "?", "-", "–", "n/a", "k.A.", "nan", None, float("nan"), RawCell(pd.NaT, "")], ids=repr
)
def test_no_date(typed):
    assert one("date", typed) == (None, "", "")


@pytest.mark.parametrize(
    "typed",
    [
        "31.04.2026",
        "30/02/2026",
        "29.02.2026",
        "0.5.2026",
        "32.05.2026",
        "2026-13-01",
        "31 June 2026",
        "13/13/2026",
        "yesterday",
        "May 2026",
        "05/2026",
        "2026",
        "4.5.2.26",
        "4 May June 2026",
        "4.5.20266",
        "May 4 5 2026",
        "#REF!",
        True,
        dt.time(9, 30),
        12,
        3.14159,
        float("inf"),
        10**400,
        "0000-00-00",
        "1e3",
        "4.5.-6.5.2026",
    ],
    ids=lambda x: repr(x)[:20],
)
def test_no_day_of_the_calendar_is_told(typed):
    assert one("date", typed, "25.05.2026", "26.05.2026")[:2] == (None, "unreadable")


@pytest.mark.parametrize("typed", ["~4.5.2026", "4.5.2026?", "ca. 4.5.2026", "(4.5.2026)", "4.5.2026 (?)"])
def test_a_mark_of_doubt_is_told(typed):
    assert one("date", typed, "25.05.2026")[1:] == ("uncertain_mark", "2026-05-04")


def test_29_february_of_a_leap_year():
    assert day(column("date", "29.02.2028")) == dt.date(2028, 2, 29)


@pytest.mark.parametrize(
    ("typed", "year"), [("4.5.69", 2069), ("4.5.70", 1970), ("4.5.99", 1999), ("4.5.00", 2000)]
)
def test_two_digit_years(typed, year):
    # the pivot is common practice; pandas puts it one year earlier (69 is 1969)
    assert day(column("date", typed)).year == year


class TestOrder:
    def test_nothing_shows_it(self):
        read = column("date", "04/05/2026", "05/05/2026", "06/05/2026")
        assert plain(read) == [moment(2026, 5, d) for d in (4, 5, 6)]
        assert [(r.kind, r.label) for r in read.readings] == [("date_order", "handlings!2")]
        assert read.readings[0].remark == (
            "'04/05/2026' was read day first, as 2026-05-04, since nothing in the column shows which "
            "number is the "
            "month; so was 1 more of this column"
        )

    def test_points_mean_day_first(self):
        # nobody writes the month first with points: common practice in all five languages
        assert column("date", "04.05.2026", "05.06.2026").readings == ()

    @pytest.mark.parametrize(
        ("shows", "first"), [("25/05/2026", dt.date(2026, 5, 4)), ("05/25/2026", dt.date(2026, 4, 5))]
    )
    def test_another_cell_shows_it(self, shows, first):
        read = column("date", "04/05/2026", shows, shows)
        assert (day(read), read.readings) == (first, ())

    @pytest.mark.parametrize("real", [moment(2026, 5, 6), "2026-05-06", "6 May 2026"])
    def test_neighbours_show_it(self, real):
        assert day(column("date", real, "04/05/2026", real, "05/05/2026")) == dt.date(2026, 5, 6)
        read = column("date", real, "05/04/2026", real, "05/05/2026")
        assert (day(read, 1), read.readings) == (MAY4, ())

    def test_one_date_against_all_others(self):
        read = column("date", "25/05/2026", "26/05/2026", "05/27/2026")
        assert day(read, 2) == dt.date(2026, 5, 27)
        assert reading_at(read, 2).remark == (
            "'05/27/2026' was read month first, as 2026-05-27, unlike the column's other dates"
        )

    def test_one_slip_does_not_turn_the_whole_column(self):
        # 05/15 is a slip among days that lie together only when read day first
        typed = [f"{d:02}/05/2026" for d in range(1, 12)]
        read = column("date", *typed[:5], "05/15/2026", *typed[5:])
        assert plain(read)[:2] == [moment(2026, 5, 1), moment(2026, 5, 2)]
        assert reading_at(read, 5).kind == "date_order"

    def test_the_year_may_come_first(self):
        read = column("date", "26-05-04", "26-05-05", "26-06-11")
        assert plain(read) == [moment(2026, 5, 4), moment(2026, 5, 5), moment(2026, 6, 11)]
        assert day(column("date", "98-05-04")) == dt.date(1998, 5, 4)
        assert day(column("date", "26-05-04", year=2026)) == MAY4
        assert day(column("date", "04-05-26", year=2026)) == MAY4
        read = column("date", "26-05-04", "26-05-05", "26-06-11", "26-13-04", "26-06-12")
        assert [value and value.month for value in plain(read)] == [5, 5, 6, None, 6]
        # May of one year and a slip in another; 23 is no month
        assert day(column("date", "5/1/20", "5/23/26", "5/25/26")) == dt.date(2020, 5, 1)
        assert day(column("date", "05-04-26", "05-06-26", "05-06-25")) == dt.date(2026, 4, 5)

    def test_six_digits(self):
        assert day(column("date", "040526", "250526")) == MAY4


class TestYearMissing:
    def test_from_the_neighbours(self):
        read = column("date", "3.5.2026", "4.5.", "5. Mai", "25/05")
        assert plain(read) == [moment(2026, 5, d) for d in (3, 4, 5, 25)]
        assert [r.remark for r in read.readings] == [
            (
                "'4.5.' has no year; it was read as 2026-05-04, by the dates beside it; so were 2 more "
                "of this column"
            )
        ]

    def test_from_the_season(self):
        assert one("date", "4.5.", year=2026)[1:] == ("date_year", "2026-05-04")

    def test_from_nowhere(self):
        read = column("date", "4.5.", "5.5.")
        assert plain(read) == [None, None]
        assert read.readings[0].remark == (
            "'4.5.' has no year, and no other date of the column has one; add it"
        )

    def test_a_number_cell_keeps_4_5(self):
        assert day(column("date", 4.5, "3.5.2026")) == MAY4
        # 4.1 may have been 4.10
        assert one("date", 4.1, "3.5.2026")[1] == "unreadable"


class TestDayNumbers:
    @pytest.mark.parametrize(("epoch", "kinds"), [(WINDOWS_EPOCH, 1), (MAC_EPOCH, 1)], ids=["1900", "1904"])
    @pytest.mark.parametrize("form", [int, float, str])
    def test_both_date_systems(self, epoch, kinds, form):
        # openpyxl writes the number, we read it; dates beside it tell which system it is
        number = form(int(to_excel(moment(2026, 5, 4), epoch)))
        read = column("date", moment(2026, 5, 5), number, moment(2026, 5, 6))
        assert day(read, 1) == MAY4
        assert [r.kind for r in read.readings] == ["date_number"] * kinds

    def test_alone_it_counts_from_1900(self):
        read = column("date", 46146, 46147)
        assert plain(read) == [moment(2026, 5, 4), moment(2026, 5, 5)]
        assert read.readings[0].remark == (
            "'46146' is a spreadsheet's day number, counted from 1899-12-30; it was read as "
            "2026-05-04; so was 1 "
            "more of this column"
        )

    @given(SEASON)
    def test_any_day(self, date):
        assert day(column("date", to_excel(moment(date.year, date.month, date.day)))) == date


class TestTurnedByASpreadsheet:
    TEXT = ("25/05/2026", "26/05/2026", "27/05/2026")

    def test_real_dates_among_text_that_stayed(self):
        read = column("date", *self.TEXT, moment(2026, 4, 5), moment(2026, 1, 6))
        assert [(r.label, r.kind, r.value) for r in read.readings] == [
            ("handlings!5", "date_turned", "2026-05-04"),
            ("handlings!6", "date_turned", "2026-06-01"),
        ]
        # nothing is changed silently
        assert plain(read)[3:] == [moment(2026, 4, 5), moment(2026, 1, 6)]
        assert read.readings[0].remark == (
            "2026-04-05 is a real date among dates that stayed text since their day is above 12: the "
            "spreadsheet "
            "took the day for the month, and 2026-05-04 was meant"
        )

    @pytest.mark.parametrize(
        "others",
        [
            (moment(2026, 5, 4),),  # lies among the others as it is
            (moment(2026, 5, 5),),  # cannot be turned
            (moment(2026, 5, 24),),  # cannot be turned
            (moment(2026, 9, 8),),  # turned it would be as far away
            (moment(2026, 4, 5), "04/05/2026"),  # a text with a low day: the spreadsheet left them alone
        ],
    )
    def test_innocent_dates(self, others):
        assert column("date", *self.TEXT, *others).readings == ()

    def test_two_texts_are_no_pattern(self):
        assert column("date", *self.TEXT[:2], moment(2026, 1, 6)).readings == ()


@pytest.mark.parametrize("locale", [*LOCALES, "de_AT", "de_CH", "en_US"])
@pytest.mark.parametrize("width", ["wide", "abbreviated"])
@pytest.mark.parametrize("context", ["format", "stand-alone"])
def test_every_month_name_of_the_cldr(locale, width, context):
    # Babel 2.18, Unicode CLDR
    for month, name in babel.dates.get_month_names(width, context, locale).items():
        assert day(column("date", f"4 {name} 2026")) == dt.date(2026, month, 4), name


@pytest.mark.parametrize("locale", LOCALES)
@pytest.mark.parametrize("width", ["wide", "abbreviated"])
def test_every_weekday_of_the_cldr(locale, width):
    for name in babel.dates.get_day_names(width, "format", locale).values():
        assert day(column("date", f"{name}, 4. 5. 2026")) == MAY4, name


@given(SEASON, st.sampled_from([*LOCALES, "en_US"]), st.sampled_from(["short", "medium", "long", "full"]))
def test_any_day_as_any_locale_writes_it(date, locale, form):
    # Babel 2.18, Unicode CLDR; three cells with days above 12 show the order of the column
    shows = [babel.dates.format_date(dt.date(2026, 5, d), form, locale) for d in (23, 25, 27)]
    read = column("date", babel.dates.format_date(date, form, locale), *shows)
    assert (day(read), read.readings) == (date, ())


@given(
    st.lists(SEASON, min_size=1, max_size=8),
    st.sampled_from(["%d/%m/%Y", "%m/%d/%Y", "%d.%m.%y", "%Y-%m-%d", "%d-%b-%Y", "%d%m%Y", "%m-%d-%Y"]),
)
def test_any_column_that_shows_its_order(dates, form):
    dates = [*dates, dt.date(2026, 5, 23), dt.date(2026, 5, 25)]
    read = column("date", *[date.strftime(form) for date in dates])
    assert [value.date() for value in plain(read)] == dates
    # pandas, told the order, reads the same
    theirs = pd.to_datetime(pd.Series([date.strftime(form) for date in dates]), format=form)
    assert values(read).tolist() == theirs.tolist()


@given(SEASON, SEASON)
def test_the_neighbours_decide_only_when_they_are_clearly_nearer(date, neighbour):
    assume(date.day <= 12 and date.day != date.month)
    turned = date.replace(day=date.month, month=date.day)
    value = day(column("date", date.strftime("%d/%m/%Y"), neighbour))
    assert value in (date, turned)
    if abs(date - neighbour) <= abs(turned - neighbour):
        assert value == date

"""Days as numbers, counted from 1970-01-01, written once for every engine that narwhals knows."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from narwhals import Expr

__all__ = ["PARTS", "day_of_date", "day_of_parts", "parts_of_text", "year_of_date"]

#: What a day written as text is taken apart into.
PARTS = ("year", "month", "day")
#: Days from 0000-03-01 to 1970-01-01, and from 0001-01-01 to it.
_FROM_MARCH, _EPOCH = 719_468, 719_162
_MONTHS, _YEAR = 12, 365
_LEAP, _CENTURY, _CYCLE = 4, 100, 400
#: Five months from March on have 153 days, and so have the next five.
_FIVE, _DAYS_OF_FIVE = 5, 153
#: March is the first month of such a year.
_BACK = 9
_LONG, _SHORT, _FEBRUARY, _JULY = 31, 28, 2, 7

_ISO = r"^[0-9]{4}-[0-9]{2}-[0-9]{2}(?:[ T].*)?$"
_DOTTED = r"^[0-9]{1,2}\.[0-9]{1,2}\.[0-9]{4}$"


def day_of_date(date: Expr) -> Expr:
    """Give the number of the day of a date or a moment; missing where it is.

    Floating point throughout, since whole numbers can be missing in some engines only; exact up to 2**53.
    """
    import narwhals as nw

    past = date.dt.year().cast(nw.Float64) - 1
    return past * _YEAR + _leaps(past) + date.dt.ordinal_day().cast(nw.Float64) - 1 - _EPOCH


def parts_of_text(text: Expr) -> tuple[Expr, Expr, Expr]:
    """Take a day apart that is written as 2019-05-31, whatever follows, or as 31.5.2019.

    Returns
    -------
    tuple of narwhals.Expr
        Year, month and day; missing where the text is neither. There may never have been such a day.
    """
    import narwhals as nw

    iso = nw.when(text.str.contains(_ISO)).then(text)
    dotted = nw.when(text.str.contains(_DOTTED)).then(text)
    year = nw.coalesce(iso.str.slice(0, 4), dotted.str.replace_all(r"^.*\.", ""))
    second = dotted.str.replace_all(r"^[0-9]+\.", "").str.replace_all(r"\..*$", "")
    month = nw.coalesce(iso.str.slice(5, 2), second)
    day = nw.coalesce(iso.str.slice(8, 2), dotted.str.replace_all(r"\..*$", ""))
    return year.cast(nw.Float64), month.cast(nw.Float64), day.cast(nw.Float64)


def day_of_parts(year: Expr, month: Expr, day: Expr) -> Expr:
    """Give the number of a day; missing where there never was one, such as 2019-02-30.

    Parameters
    ----------
    year, month, day : narwhals.Expr
        Columns rather than long expressions, since each is used many times.

    Notes
    -----
    Gregorian calendar. No engine is asked to read a date: some stop at the first that there never was. Months
    are counted from March, so that a leap day is the last of its year and month lengths repeat by five.
    """
    import narwhals as nw

    leap = ((year % _LEAP == 0) & ((year % _CENTURY != 0) | (year % _CYCLE == 0))).cast(nw.Float64)
    # 31 and 30 days by turns, begun again in August
    length = _LONG - (month - 1) % _JULY % 2
    last = nw.when(month == _FEBRUARY).then(leap + _SHORT).otherwise(length)
    there = (year >= 1) & (month >= 1) & (month <= _MONTHS) & (day >= 1) & (day <= last)
    begun = year - (month <= _FEBRUARY).cast(nw.Float64)
    before = ((month + _BACK) % _MONTHS * _DAYS_OF_FIVE + 2) / _FIVE
    number = begun * _YEAR + _leaps(begun) + before.floor() + day - 1 - _FROM_MARCH
    return nw.when(there).then(number)


def year_of_date(date: Expr) -> Expr:
    """Give the year of a date or a moment as text; missing where it is."""
    import narwhals as nw

    return date.dt.year().cast(nw.String).str.replace_all(r"\.0$", "")


def _leaps(years: Expr) -> Expr:
    """Count leap days (Gregorian calendar)."""
    return (years / _LEAP).floor() - (years / _CENTURY).floor() + (years / _CYCLE).floor()

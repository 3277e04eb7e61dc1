"""Days as numbers, counted from 1970-01-01, written once for every engine that narwhals knows."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from narwhals import Expr

__all__ = ["DAY_TEXT", "day_of_date", "day_of_text", "year_of_date", "year_of_text"]

#: Days from 0001-01-01 to 1970-01-01.
_EPOCH = 719_162
_YEAR = 365
#: Days before each month of a year that is no leap year, and of all of it.
_BEFORE = (0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334, 365)
_FEBRUARY = 2
_MARCH = 3
_LEAP, _CENTURY, _CYCLE = 4, 100, 400

_ISO = r"^[0-9]{4}-[0-9]{2}-[0-9]{2}(?:[ T].*)?$"
_DOTTED = r"^[0-9]{1,2}\.[0-9]{1,2}\.[0-9]{4}$"
#: Ways in which a day may be written as text.
DAY_TEXT = "2019-05-31 or 31.5.2019"


def day_of_date(date: Expr) -> Expr:
    """Give the number of the day of a date or a moment; missing where it is.

    Floating point throughout, since whole numbers can be missing in some engines only; exact up to 2**53.
    """
    import narwhals as nw

    year = date.dt.year().cast(nw.Float64)
    return _before_year(year) + date.dt.ordinal_day().cast(nw.Float64) - 1 - _EPOCH


def day_of_text(text: Expr) -> Expr:
    """Give the number of the day that a text names; missing where it names none, such as 2019-02-30.

    Notes
    -----
    No engine is asked to read a date: some stop at the first that there never was.
    """
    import narwhals as nw

    iso = nw.when(text.str.contains(_ISO)).then(text)
    # 31.5.2019 is the same as 2019-05-31
    dotted = nw.when(text.str.contains(_DOTTED)).then(text)
    first = dotted.str.replace_all(r"\..*$", "")
    second = dotted.str.replace_all(r"^[0-9]+\.", "").str.replace_all(r"\..*$", "")
    year = nw.coalesce(iso.str.slice(0, 4), dotted.str.replace_all(r"^.*\.", "")).cast(nw.Float64)
    month = nw.coalesce(iso.str.slice(5, 2), second).cast(nw.Float64)
    day = nw.coalesce(iso.str.slice(8, 2), first).cast(nw.Float64)
    leap = ((year % _LEAP == 0) & ((year % _CENTURY != 0) | (year % _CYCLE == 0))).cast(nw.Float64)
    before, after = nw.lit(None, dtype=nw.Float64), nw.lit(None, dtype=nw.Float64)
    for number, (begins, ends) in enumerate(pairwise(_BEFORE), 1):
        more = leap if number >= _MARCH else nw.lit(0.0)
        then = leap if number >= _FEBRUARY else nw.lit(0.0)
        before = nw.when(month == number).then(more + begins).otherwise(before)
        after = nw.when(month == number).then(then + ends).otherwise(after)
    there = (year >= 1) & (day >= 1) & (day <= after - before)
    return nw.when(there).then(_before_year(year) + before + day - 1 - _EPOCH)


def year_of_date(date: Expr) -> Expr:
    """Give the year of a date or a moment as text; missing where it is."""
    import narwhals as nw

    return date.dt.year().cast(nw.String).str.replace_all(r"\.0$", "")


def year_of_text(text: Expr) -> Expr:
    """Give the year of a day written as text, even if there never was such a day."""
    import narwhals as nw

    iso = nw.when(text.str.contains(_ISO)).then(text)
    dotted = nw.when(text.str.contains(_DOTTED)).then(text)
    return nw.coalesce(iso.str.slice(0, 4), dotted.str.replace_all(r"^.*\.", ""))


def _before_year(year: Expr) -> Expr:
    """Days from 0001-01-01 to the first day of a year (Gregorian calendar)."""
    past = year - 1
    leaps = (past / _LEAP).floor() - (past / _CENTURY).floor() + (past / _CYCLE).floor()
    return past * _YEAR + leaps

"""Dates as people type them; the order of day and month is decided for the whole column."""

from __future__ import annotations

import bisect
import datetime as dt
import re
from collections import Counter
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

from audit.intake.answer import MISSING, UNREADABLE, Answer, quoted
from audit.intake.words import Words, fold, tidy

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

__all__ = ["DateReader", "date_reader", "split_time"]

Order = Literal["day first", "month first", "year first"]
_ORDERS: tuple[Order, ...] = ("day first", "month first", "year first")

_ISO = re.compile(r"\d{4}-\d\d-\d\d")
_TIME_BEHIND = re.compile(
    r"(?P<day>.*[^\s:])(?:[T ]\s*|,\s+)"
    r"(?P<time>\d{1,2}:\d{2}(?::\d{2}(?:[.,]\d+)?)?(?: ?[ap]\.?m\.?)?)"
    r"(?: ?(?P<zone>z|utc|gmt|[+-]\d\d:?\d\d))?",
    re.IGNORECASE,
)
_PIECE = re.compile(r"\d+|[^\W\d_]+")
_WORD_ON_DIGIT = re.compile(r"[^\W\d_]+(?=\d)")
_BETWEEN = re.compile(r"[\s.,/\-'’_|\\]*")
_DAY_NUMBER = re.compile(r"\d{5}(?:[.,]\d+)?")
_YEAR_DIGITS, _DAY_DIGITS = 4, 2
_DAY_AND_MONTH, _DAY_MONTH_YEAR = 2, 3
#: Sizes of dates written without anything between: ddmmyy and ddmmyyyy, in some order.
_COMPACT = (6, 8)
#: A leap year, so that 29 February is a day until the year is known.
_LEAP = 2000
_LONGEST_MONTH = 31
#: One wrong year makes two last numbers; three behind one first number are days.
_MANY_LAST = 3


@dataclass(frozen=True, slots=True)
class _Parts:
    """A date taken apart: known day and month, or two or three numbers in an order still to be found.

    `year` is None where none was typed; `triple` holds three two-digit numbers.
    """

    day: int = 0
    month: int = 0
    year: int | None = None
    pair: tuple[int, int] | None = None
    triple: tuple[int, int, int] | None = None

    @property
    def settled(self) -> bool:
        return self.pair is None and self.triple is None


@dataclass(slots=True)
class _Column:
    """What is known while a column of dates is read."""

    answers: list[Answer | None]
    days: list[dt.date | None]
    parts: dict[int, _Parts] = field(default_factory=dict)
    numbers: dict[int, float] = field(default_factory=dict)
    doubtful: set[int] = field(default_factory=set)


def split_time(text: str) -> tuple[str, str, str]:
    """Split a text into day, time of day and zone; time and zone are empty where there are none.

    Examples
    --------
    >>> split_time("2026-05-04T21:30:15.250+02:00")
    ('2026-05-04', '21:30:15.250', '+02:00')
    """
    match = _TIME_BEHIND.fullmatch(text)
    if match is None:
        return text, "", ""
    return match["day"].rstrip(" ,"), match["time"], match["zone"] or ""


@dataclass(frozen=True, slots=True)
class DateReader:
    """Reads a column of dates.

    Attributes
    ----------
    year : int or None
        Year of the season, for dates typed without one where no neighbour has one.
    months, weekdays, fillers, ordinals : names and small words
        Month numbers by name; words that carry nothing.
    """

    year: int | None
    months: dict[str, int]
    weekdays: frozenset[str]
    fillers: frozenset[str]
    ordinals: frozenset[str]
    missing: frozenset[str]
    broken: frozenset[str]
    before: tuple[str, ...]
    after: tuple[str, ...]
    first_serial: int
    last_serial: int
    epochs: tuple[dt.date, dt.date]
    pivot: int
    clear_ratio: float
    thin_evidence: int
    turned_from: int
    turned_margin: int

    def read(self, values: Sequence[object]) -> list[Answer]:
        """Read the cells of one column, in sheet order."""
        column = _Column([None] * len(values), [None] * len(values))
        texts: dict[str, tuple[_Parts | None, bool]] = {}
        for i, value in enumerate(values):
            if isinstance(value, dt.datetime):
                column.days[i] = value.date()
            elif isinstance(value, dt.date):
                column.days[i] = value
            elif isinstance(value, str):
                self._take(value, i, column, texts)
            elif isinstance(value, (int, float)) and not isinstance(value, bool):
                self._take_number(value, i, column)
            elif value is None:
                column.answers[i] = MISSING
            else:
                column.answers[i] = Answer(
                    None, UNREADABLE, f"{quoted(str(value).upper())} is no date; type day, month and year"
                )
        real = [i for i, value in enumerate(values) if isinstance(value, dt.date)]
        self._settle(values, column)
        self._count_days(column)
        self._turned(column, real)
        return [
            answer or _as_day(day, str(values[i]) if i in column.doubtful else "")
            for i, (answer, day) in enumerate(zip(column.answers, column.days, strict=True))
        ]

    def _take(self, text: str, i: int, column: _Column, texts: dict[str, tuple[_Parts | None, bool]]) -> None:
        if text not in texts:
            texts[text] = self._apart_or_doubtful(text)
        parts, doubtful = texts[text]
        if parts is None and _DAY_NUMBER.fullmatch(bare := text.strip()):
            number = float(bare.replace(",", "."))
            if self.first_serial <= number <= self.last_serial:
                column.numbers[i] = number
                return
        if doubtful:
            column.doubtful.add(i)
        if parts is not None:
            if parts.settled and parts.year is not None:
                column.days[i] = _date(parts.year, parts.month, parts.day)
                if column.days[i] is None:
                    column.answers[i] = _impossible(text)
            else:
                column.parts[i] = parts
            return
        word = fold(tidy(text))
        if not word or word in self.missing:
            column.answers[i] = MISSING
        elif word in self.broken:
            column.answers[i] = Answer(
                None,
                UNREADABLE,
                f"{quoted(text)} is what a spreadsheet shows where it could not compute; type the date",
            )
        else:
            column.answers[i] = Answer(
                None, UNREADABLE, f"{quoted(text)} cannot be read as a date; type day, month and year"
            )

    def _take_number(self, value: float, i: int, column: _Column) -> None:
        if value != value:  # noqa: PLR0124 - only a missing number differs from itself
            column.answers[i] = MISSING
            return
        if self.first_serial <= value <= self.last_serial:
            column.numbers[i] = float(value)
            return
        text = f"{value:.0f}" if float(value).is_integer() else f"{value:.10g}"
        if len(text) % 2 and float(value).is_integer():
            text = "0" + text  # 4052026 is 04052026 after the nought was lost
        parts = self._apart(text)
        whole, point, decimals = text.partition(".")
        if point and decimals == "1":
            parts = None  # 4.1 may have been 4.10
        if parts is None or "e" in text:
            column.answers[i] = Answer(
                None,
                UNREADABLE,
                f"the number {whole + point + decimals} is no date; type day, month and year",
            )
        elif parts.settled and parts.year is not None:
            column.days[i] = _date(parts.year, parts.month, parts.day)
            if column.days[i] is None:
                column.answers[i] = _impossible(text)
        else:
            column.parts[i] = parts

    def _apart_or_doubtful(self, text: str) -> tuple[_Parts | None, bool]:
        bare = tidy(text).lstrip("'’ ")
        parts = self._apart(bare)
        if parts is not None:
            return parts, False
        word = bare.casefold()
        for mark in self.before:
            if word.startswith(mark):
                return self._apart(bare[len(mark) :].strip()), True
        for mark in self.after:
            if word.endswith(mark):
                return self._apart(bare[: -len(mark)].strip()), True
        if bare.startswith("(") and bare.endswith(")"):
            return self._apart(bare[1:-1].strip()), True
        return None, False

    def _apart(self, text: str) -> _Parts | None:
        if _ISO.fullmatch(text):
            return _Parts(int(text[8:]), int(text[5:7]), int(text[:4]))
        text, _, _ = split_time(text)
        if _BETWEEN.sub("", _PIECE.sub("", text)):
            return None
        pieces = _PIECE.findall(text)
        numbers = [piece for piece in pieces if piece.isdigit()]
        words = [fold(piece) for piece in pieces if not piece.isdigit()]
        months = [word for word in words if word in self.months]
        loose = [word for word in words if word not in self.months]
        if len(months) > 1:
            # 'mar' is Tuesday as well as March
            spare = [word for word in months if word in self.weekdays]
            months = [word for word in months if word not in self.weekdays] or months[-1:]
            loose += spare
        if any(word not in self.weekdays | self.fillers | self.ordinals for word in loose):
            return None
        # 1e3 is a number, not the first of March
        if any(fold(word) in loose for word in _WORD_ON_DIGIT.findall(text)):
            return None
        if len(months) == 1 and len(numbers) in (1, 2):
            return self._named(self.months[months[0]], numbers)
        if months and not all(word in self.weekdays for word in months):
            return None
        return self._numeric(numbers)

    def _named(self, month: int, numbers: list[str]) -> _Parts | None:
        if len(numbers) == 1:
            return _Parts(int(numbers[0]), month) if len(numbers[0]) <= _DAY_DIGITS else None
        first, second = numbers
        if len(first) == _YEAR_DIGITS and len(second) <= _DAY_DIGITS:
            return _Parts(int(second), month, int(first))
        if len(first) <= _DAY_DIGITS and len(second) in (_DAY_DIGITS, _YEAR_DIGITS):
            return _Parts(int(first), month, self._full_year(second))
        return None

    def _numeric(self, numbers: list[str]) -> _Parts | None:
        if len(numbers) == 1 and len(numbers[0]) in _COMPACT:
            return self._compact(numbers[0])
        sizes = [len(number) for number in numbers]
        if len(numbers) == _DAY_AND_MONTH and max(sizes) <= _DAY_DIGITS:
            return _Parts(pair=(int(numbers[0]), int(numbers[1])))
        if len(numbers) != _DAY_MONTH_YEAR:
            return None
        if sizes[0] == _YEAR_DIGITS and max(sizes[1:]) <= _DAY_DIGITS:
            return _Parts(int(numbers[2]), int(numbers[1]), int(numbers[0]))
        if sizes[2] == _YEAR_DIGITS and max(sizes[:2]) <= _DAY_DIGITS:
            return _Parts(pair=(int(numbers[0]), int(numbers[1])), year=int(numbers[2]))
        if max(sizes) <= _DAY_DIGITS and sizes[2] == _DAY_DIGITS:
            return _Parts(triple=(int(numbers[0]), int(numbers[1]), int(numbers[2])))
        return None

    def _compact(self, digits: str) -> _Parts | None:
        if len(digits) == _COMPACT[0]:
            return _Parts(triple=(int(digits[:2]), int(digits[2:4]), int(digits[4:])))
        year_first = _Parts(int(digits[6:]), int(digits[4:6]), int(digits[:4]))
        if str(digits[:2]) in ("19", "20") and _date(year_first.year or 0, year_first.month, year_first.day):
            return year_first
        return _Parts(pair=(int(digits[:2]), int(digits[2:4])), year=int(digits[4:]))

    def _full_year(self, digits: str) -> int:
        year = int(digits)
        if len(digits) == _YEAR_DIGITS:
            return year
        century = 1900 if year >= self.pivot else 2000
        return century + year

    def _settle(self, values: Sequence[object], column: _Column) -> None:
        if not column.parts:
            return
        years = _Nearest(
            [(i, day.year) for i, day in enumerate(column.days) if day]
            + [(i, parts.year) for i, parts in column.parts.items() if parts.year is not None]
        )
        year_first = self._year_may_lead(column, years)
        readings = {i: self._readings(parts, years.at(i), year_first) for i, parts in column.parts.items()}
        order, shown_by = self._order(readings, column)
        typed = {i: str(values[i]) for i in readings}
        guessed: list[int] = []
        yearless: list[int] = []
        for i, found in readings.items():
            parts, text = column.parts[i], typed[i]
            if parts.year is None and parts.triple is None and years.at(i) is None and self.year is None:
                column.answers[i] = Answer(
                    None,
                    UNREADABLE,
                    f"{quoted(text)} has no year, and no other date of the column has one; add it",
                )
                continue
            day = found.get("year first") or found.get(order)
            others = set(found.values()) - {day}
            if day is None and len(others) == 1:
                day = others.pop()
                column.days[i] = day
                name = next(name for name in _ORDERS if found.get(name) == day)
                column.answers[i] = Answer(
                    day,
                    "date_order",
                    f"{quoted(text)} was read {name}, as {day.isoformat()}, unlike the column's other dates",
                    day.isoformat(),
                )
                continue
            if day is None:
                column.answers[i] = _impossible(text)
                continue
            column.days[i] = day
            if parts.year is None and parts.triple is None:
                yearless.append(i)
            elif not shown_by and others and not (order == "day first" and "." in text):
                guessed.append(i)
        self._say_once(
            column,
            typed,
            "date_order",
            f"was read {order}, as {{day}}, since nothing in the column shows which number is the month",
            guessed,
        )
        source = "dates beside it" if years else "year of the season"
        self._say_once(
            column,
            typed,
            "date_year",
            f"has no year; it was read as {{day}}, by the {source}",
            yearless,
        )

    def _year_may_lead(self, column: _Column, years: _Nearest) -> bool:
        """Whether dates of three two-digit numbers may begin with the year: one first, many last numbers."""
        triples = {parts.triple for parts in column.parts.values() if parts.triple}
        first, last = {triple[0] for triple in triples}, {triple[2] for triple in triples}
        days = sum(_date(self._full_year(f"{a:02}"), b, c) is not None for a, b, c in triples)
        if days * 2 <= len(triples):
            return False
        if any(number > _LONGEST_MONTH for number in first):
            return True
        seasons = years.values() | ({self.year} if self.year is not None else set())
        if {self._full_year(f"{number:02}") for number in first} <= seasons:
            return not {self._full_year(f"{number:02}") for number in last} <= seasons
        return len(first) == 1 and len(last) >= _MANY_LAST

    def _readings(self, parts: _Parts, year: int | None, year_first: bool) -> dict[Order, dt.date]:
        year = parts.year if parts.year is not None else year if year is not None else self.year
        found: dict[Order, dt.date | None] = {}
        if parts.settled:
            only = _date(year if year is not None else _LEAP, parts.month, parts.day)
            found = dict.fromkeys(_ORDERS, only)
        elif parts.pair is not None:
            a, b = parts.pair
            year = year if year is not None else _LEAP
            found = {"day first": _date(year, b, a), "month first": _date(year, a, b)}
        elif parts.triple is not None:
            a, b, c = parts.triple
            last, first = self._full_year(f"{c:02}"), self._full_year(f"{a:02}")
            leading = _date(first, b, c) if year_first else None
            found = (
                {"year first": leading}
                if leading
                else {"day first": _date(last, b, a), "month first": _date(last, a, b)}
            )
        return {name: day for name, day in found.items() if day is not None}

    def _order(self, readings: dict[int, dict[Order, dt.date]], column: _Column) -> tuple[Order, bool]:
        """Find the order of the column, and whether anything in it showed that order."""
        known = _Nearest([(i, day.toordinal()) for i, day in enumerate(column.days) if day])
        pairs = {i: found for i, found in readings.items() if not column.parts[i].settled}
        sure = Counter(
            next(iter(found)) for found in pairs.values() if len(found) == 1 and "year first" not in found
        )
        open_rows = {i: found for i, found in pairs.items() if len(set(found.values())) > 1}
        if sure:
            (best, count), *rest = sure.most_common()
            if count > self.thin_evidence or not open_rows:
                if not rest or count > rest[0][1]:
                    return best, True
            elif not rest and not self._against(best, open_rows, known):
                return best, True
        nearest = self._by_neighbours(open_rows, known)
        if nearest is not None:
            return nearest, True
        return "day first", False

    def _by_neighbours(self, open_rows: dict[int, dict[Order, dt.date]], known: _Nearest) -> Order | None:
        if not known or not open_rows:
            return None
        far: dict[Order, float] = {}
        for name in _ORDERS[:2]:
            far[name] = sum(
                abs(found[name].toordinal() - (known.at(i) or 0)) for i, found in open_rows.items()
            )
        ranked = sorted(far, key=lambda name: far[name])
        if len(ranked) <= 1 or far[ranked[0]] * self.clear_ratio >= far[ranked[1]]:
            return None
        return ranked[0]

    def _against(self, order: Order, open_rows: dict[int, dict[Order, dt.date]], known: _Nearest) -> bool:
        """Whether the other dates lie much closer together when read in another order."""
        nearest = self._by_neighbours(open_rows, known)
        if nearest is not None:
            return nearest != order

        def path(name: Order) -> int:
            days = [found[name].toordinal() for found in open_rows.values() if name in found]
            return sum(abs(a - b) for a, b in pairwise(days))

        return any(path(name) * self.clear_ratio < path(order) for name in _ORDERS[:2] if name != order)

    @staticmethod
    def _say_once(column: _Column, typed: Mapping[int, str], kind: str, says: str, rows: list[int]) -> None:
        if not rows:
            return
        day = column.days[rows[0]]
        if day is None:
            return
        remark = f"{quoted(typed[rows[0]])} {says.format(day=day.isoformat())}"
        if len(rows) > 1:
            others = len(rows) - 1
            remark += f"; so {'was' if others == 1 else 'were'} {others} more of this column"
        column.answers[rows[0]] = Answer(day, kind, remark, day.isoformat())

    def _count_days(self, column: _Column) -> None:
        """Turn a spreadsheet's day numbers into days, by the date system nearer to the other dates."""
        if not column.numbers:
            return
        known = _Nearest([(i, day.toordinal()) for i, day in enumerate(column.days) if day])

        def far(epoch: dt.date) -> float:
            return sum(abs(epoch.toordinal() + n - (known.at(i) or 0)) for i, n in column.numbers.items())

        epoch = min(self.epochs, key=far) if known else self.epochs[0]
        for i, number in column.numbers.items():
            column.days[i] = epoch + dt.timedelta(days=int(number))
        self._say_once(
            column,
            {i: f"{number:.10g}" for i, number in column.numbers.items()},
            "date_number",
            f"is a spreadsheet's day number, counted from {epoch.isoformat()}; it was read as {{day}}",
            list(column.numbers),
        )

    def _turned(self, column: _Column, real: list[int]) -> None:
        """Find real dates whose day and month a spreadsheet exchanged.

        Text such as 25/05/2026 stays text under month-first settings while 04/05/2026 becomes 5 April.
        """
        left = [
            day
            for i, day in enumerate(column.days)
            if day and i in column.parts and (pair := column.parts[i].pair) and pair == (day.day, day.month)
        ]
        if not left or len(left) < self.turned_from or any(_swapped(day) for day in left):
            return
        if any(parts.pair and _swappable(parts.pair) for parts in column.parts.values()):
            return
        # as numbers, since "until further notice" is often the last day that there is, 31.12.9999
        low = min(left).toordinal() - self.turned_margin
        high = max(left).toordinal() + self.turned_margin
        for i in real:
            day = column.days[i]
            turned = _swapped(day) if day else None
            if day is None or turned is None or low <= day.toordinal() <= high:
                continue
            if not low <= turned.toordinal() <= high:
                continue
            column.answers[i] = Answer(
                day,
                "date_turned",
                f"{day.isoformat()} is a real date among dates that stayed text since their day is above 12: "
                f"the spreadsheet took the day for the month, and {turned.isoformat()} was meant",
                turned.isoformat(),
            )


class _Nearest:
    """The value known nearest to a row."""

    def __init__(self, known: Iterable[tuple[int, int]]) -> None:
        pairs = sorted(known)
        self._rows = [row for row, _ in pairs]
        self._values = [value for _, value in pairs]

    def __bool__(self) -> bool:
        return bool(self._rows)

    def values(self) -> set[int]:
        return set(self._values)

    def at(self, row: int) -> int | None:
        if not self._rows:
            return None
        after = bisect.bisect_left(self._rows, row)
        around = [place for place in (after - 1, after) if 0 <= place < len(self._rows)]
        return self._values[min(around, key=lambda place: abs(self._rows[place] - row))]


def _date(year: int, month: int, day: int) -> dt.date | None:
    try:
        return dt.date(year, month, day)
    except ValueError:
        return None


def _as_day(day: dt.date | None, doubtful: str) -> Answer:
    if day is None or not doubtful:
        return Answer(day)
    shown = day.isoformat()
    remark = f"{quoted(doubtful)} was read as {shown}; its mark of doubt is kept as typed only"
    return Answer(day, "uncertain_mark", remark, shown)


def _swapped(day: dt.date) -> dt.date | None:
    """Exchange day and month; None where that is no other date."""
    return _date(day.year, day.day, day.month) if day.day != day.month else None


def _swappable(pair: tuple[int, int]) -> bool:
    return _date(_LEAP, *pair) is not None and _date(_LEAP, *reversed(pair)) is not None


def _impossible(text: str) -> Answer:
    return Answer(
        None, UNREADABLE, f"{quoted(text)} is no day of the calendar; look the date up in the notebook"
    )


def date_reader(words: Words, *, year: int | None = None) -> DateReader:
    """Build the reader of a column of dates."""
    uncertain = {side: words.listed(f"uncertain.{side}") for side in ("before", "after")}
    return DateReader(
        year=year,
        months=words.months(),
        weekdays=words.listed("weekdays"),
        fillers=words.listed("dates.fillers"),
        ordinals=words.listed("dates.ordinals"),
        missing=words.listed("missing.any") | words.listed("missing.numbers"),
        broken=words.listed("spreadsheet_errors"),
        before=tuple(sorted(uncertain["before"], key=len, reverse=True)),
        after=tuple(sorted(uncertain["after"], key=len, reverse=True)),
        first_serial=int(words.setting("dates.first_serial")),
        last_serial=int(words.setting("dates.last_serial")),
        epochs=(
            dt.date.fromisoformat(words.setting("dates.epoch_1900")),
            dt.date.fromisoformat(words.setting("dates.epoch_1904")),
        ),
        pivot=int(words.setting("dates.two_digit_pivot")),
        clear_ratio=float(words.setting("dates.clear_ratio")),
        thin_evidence=int(words.setting("dates.thin_evidence")),
        turned_from=int(words.setting("dates.turned_from")),
        turned_margin=int(words.setting("dates.turned_margin")),
    )

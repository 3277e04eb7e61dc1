"""One date as typed, taken apart: day, month and year, or numbers in an order still to be found."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.intake.doubt_marks import DoubtMarks, doubt_marks
from audit.intake.words import fold, tidy

if TYPE_CHECKING:
    from audit.intake.words import Words

__all__ = ["DateParts", "DateTexts", "calendar_day", "date_texts", "split_time"]

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
_YEAR_DIGITS, _DAY_DIGITS = 4, 2
_DAY_AND_MONTH, _DAY_MONTH_YEAR = 2, 3
#: Sizes of dates written without anything between: ddmmyy and ddmmyyyy, in some order.
_COMPACT = (6, 8)


@dataclass(frozen=True, slots=True)
class DateParts:
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
        """Whether day and month are known."""
        return self.pair is None and self.triple is None


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


def calendar_day(year: int, month: int, day: int) -> dt.date | None:
    """Make a day; None where the calendar has none."""
    try:
        return dt.date(year, month, day)
    except ValueError:
        return None


@dataclass(frozen=True, slots=True)
class DateTexts:
    """Takes texts apart.

    Attributes
    ----------
    months : dict of str to int
        Month numbers by name.
    weekdays, fillers, ordinals : frozenset of str
        Words that carry nothing.
    doubt : DoubtMarks
    pivot : int
        Years of two digits from here on are of the last century.
    """

    months: dict[str, int]
    weekdays: frozenset[str]
    fillers: frozenset[str]
    ordinals: frozenset[str]
    doubt: DoubtMarks
    pivot: int

    def apart_or_doubtful(self, text: str) -> tuple[DateParts | None, bool]:
        """Take a text apart, without its mark of doubt where it has one, and say whether it had."""
        bare = tidy(text).lstrip("'’ ")
        parts = self.apart(bare)
        if parts is not None:
            return parts, False
        inner = self.doubt.unwrapped(bare)
        return (None, False) if inner is None else (self.apart(inner), True)

    def apart(self, text: str) -> DateParts | None:
        """Take a tidy text apart; None where it is no date."""
        if _ISO.fullmatch(text):
            return DateParts(int(text[8:]), int(text[5:7]), int(text[:4]))
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

    def full_year(self, digits: str) -> int:
        """Read a year of two or four digits."""
        year = int(digits)
        if len(digits) == _YEAR_DIGITS:
            return year
        century = 1900 if year >= self.pivot else 2000
        return century + year

    def _named(self, month: int, numbers: list[str]) -> DateParts | None:
        if len(numbers) == 1:
            return DateParts(int(numbers[0]), month) if len(numbers[0]) <= _DAY_DIGITS else None
        first, second = numbers
        if len(first) == _YEAR_DIGITS and len(second) <= _DAY_DIGITS:
            return DateParts(int(second), month, int(first))
        if len(first) <= _DAY_DIGITS and len(second) in (_DAY_DIGITS, _YEAR_DIGITS):
            return DateParts(int(first), month, self.full_year(second))
        return None

    def _numeric(self, numbers: list[str]) -> DateParts | None:
        if len(numbers) == 1 and len(numbers[0]) in _COMPACT:
            return self._compact(numbers[0])
        sizes = [len(number) for number in numbers]
        if len(numbers) == _DAY_AND_MONTH and max(sizes) <= _DAY_DIGITS:
            return DateParts(pair=(int(numbers[0]), int(numbers[1])))
        if len(numbers) != _DAY_MONTH_YEAR:
            return None
        if sizes[0] == _YEAR_DIGITS and max(sizes[1:]) <= _DAY_DIGITS:
            return DateParts(int(numbers[2]), int(numbers[1]), int(numbers[0]))
        if sizes[2] == _YEAR_DIGITS and max(sizes[:2]) <= _DAY_DIGITS:
            return DateParts(pair=(int(numbers[0]), int(numbers[1])), year=int(numbers[2]))
        if max(sizes) <= _DAY_DIGITS and sizes[2] == _DAY_DIGITS:
            return DateParts(triple=(int(numbers[0]), int(numbers[1]), int(numbers[2])))
        return None

    def _compact(self, digits: str) -> DateParts | None:
        if len(digits) == _COMPACT[0]:
            return DateParts(triple=(int(digits[:2]), int(digits[2:4]), int(digits[4:])))
        year, month, day = int(digits[:4]), int(digits[4:6]), int(digits[6:])
        if str(digits[:2]) in ("19", "20") and calendar_day(year, month, day):
            return DateParts(day, month, year)
        return DateParts(pair=(int(digits[:2]), int(digits[2:4])), year=int(digits[4:]))


def date_texts(words: Words) -> DateTexts:
    """Build what takes dates apart from the words of ``reading.yaml``."""
    return DateTexts(
        months=words.months(),
        weekdays=words.listed("weekdays"),
        fillers=words.listed("dates.fillers"),
        ordinals=words.listed("dates.ordinals"),
        doubt=doubt_marks(words),
        pivot=int(words.setting("dates.two_digit_pivot")),
    )

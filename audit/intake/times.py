"""Times of day, and moments (day and time) down to the millisecond."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.intake.answer import MISSING, UNREADABLE, Answer, quoted
from audit.intake.date_text import split_time
from audit.intake.doubt_marks import DoubtMarks, doubt_marks
from audit.intake.words import Words, fold, tidy

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.intake.dates import DateReader

__all__ = ["TimeReader", "read_moments", "time_reader"]

_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,](\d+))?)?(?::\d+)?")
_FRACTION = re.compile(r"0?[.,]\d{3,}")
#: 9.30 after a spreadsheet took it for a number.
_CUT_SHORT = re.compile(r"\d{1,2}[.,]\d")
_DIGITS = re.compile(r"\d{1,4}")
#: Identities of the clock.
_HOURS, _MINUTES = 24, 60
_HOUR_DIGITS = 2
_MICROSECONDS = 6


@dataclass(frozen=True, slots=True)
class TimeReader:
    """Reads times of day."""

    between: re.Pattern[str]
    behind: tuple[str, ...]
    morning: tuple[str, ...]
    afternoon: tuple[str, ...]
    missing: frozenset[str]
    broken: frozenset[str]
    doubt: DoubtMarks

    def read(self, value: object) -> Answer:
        """Read one cell as stored; the value is text such as ``09:30``."""
        if value is None:
            return MISSING
        if isinstance(value, (dt.datetime, dt.time)):
            return Answer(f"{value.hour:02}:{value.minute:02}")
        if isinstance(value, dt.timedelta):
            return self._fraction(value / dt.timedelta(days=1), str(value))
        if isinstance(value, str):
            return self._text(value)
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            return self._number(value)
        return _no_time(str(value))

    def clock(self, text: str) -> dt.time | None:
        """Read a time of day such as ``9:30``, ``0930``, ``9h30``, ``9.30`` or ``9:30 pm``."""
        word = fold(text)
        shift = None
        for half, listed in ((0, self.morning), (1, self.afternoon)):
            for mark in listed:
                if word.endswith(mark) and word[: -len(mark)].rstrip()[-1:].isdigit():
                    word, shift = word[: -len(mark)].rstrip(), half
                    break
            if shift is not None:
                break
        marked = shift is not None
        for mark in self.behind:
            if shift is None and word.endswith(mark) and word[: -len(mark)].rstrip()[-1:].isdigit():
                word, marked = word[: -len(mark)].rstrip(), True
                break
        word = self.between.sub(r"\1:", word)
        second = micro = 0
        if match := _CLOCK.fullmatch(word):
            hour, minute, second = int(match[1]), int(match[2]), int(match[3] or 0)
            micro = int((match[4] or "0")[:_MICROSECONDS].ljust(_MICROSECONDS, "0"))
        elif _DIGITS.fullmatch(word) and (len(word) > _HOUR_DIGITS or marked):
            hour, minute = (int(word), 0) if len(word) <= _HOUR_DIGITS else (int(word[:-2]), int(word[-2:]))
        else:
            return None
        if shift is not None:
            half_day = _HOURS // 2
            if not 0 < hour <= half_day:
                return None
            hour = hour % half_day + half_day * shift
        if hour >= _HOURS or minute >= _MINUTES or second >= _MINUTES:
            return None
        return dt.time(hour, minute, second, micro)

    def _text(self, text: str) -> Answer:
        bare = tidy(text).lstrip("'’ ")
        word = fold(bare)
        if not word or word in self.missing:
            return MISSING
        if word in self.broken:
            return _no_time(bare)
        time = self.clock(bare)
        if time is not None:
            return Answer(f"{time.hour:02}:{time.minute:02}")
        day, behind, _ = split_time(bare)
        if behind and any(sign.isdigit() for sign in day):
            time = self.clock(behind)
            if time is not None:
                return Answer(f"{time.hour:02}:{time.minute:02}")
        if _FRACTION.fullmatch(bare) or _CUT_SHORT.fullmatch(bare):
            return self._number(float(bare.replace(",", ".")))
        doubtful = self.doubt.unwrapped(bare)
        time = self.clock(doubtful) if doubtful else None
        if time is not None:
            shown = f"{time.hour:02}:{time.minute:02}"
            return Answer(
                shown,
                "uncertain_mark",
                f"{quoted(bare)} was read as {shown}; its mark of doubt is kept as typed only",
                shown,
            )
        return _no_time(bare)

    def _number(self, value: float) -> Answer:
        if value != value:  # noqa: PLR0124 - only a missing number differs from itself
            return MISSING
        if 0 <= value < 1:
            return self._fraction(value, f"{value:.10g}")
        if float(value).is_integer():
            text = f"{value:.0f}"
            time = self.clock(text) if len(text) > _HOUR_DIGITS else self.clock(f"{text}h")
            if time is None and value > _HOURS:
                return _no_time(text)
        else:
            whole, _, decimals = f"{value:.10g}".partition(".")
            if len(decimals) > _HOUR_DIGITS:
                return self._fraction(value % 1, f"{value:.10g}")
            # 9.30 typed into a cell of numbers is kept as 9.3
            text = f"{value:.10g}"
            time = self.clock(f"{whole}:{decimals.ljust(2, '0')}")
        if time is None:
            return _no_time(text)
        shown = f"{time.hour:02}:{time.minute:02}"
        if float(value).is_integer() and value > _HOURS:
            return Answer(shown)
        return Answer(shown, "number_as_time", f"the number {text} was read as {shown}", shown)

    @staticmethod
    def _fraction(fraction: float, typed: str) -> Answer:
        """Turn a fraction of a day into a time, to the nearest minute."""
        minutes = round(fraction * _HOURS * _MINUTES)
        if not 0 <= minutes < _HOURS * _MINUTES:
            return _no_time(typed)
        return Answer(f"{minutes // _MINUTES:02}:{minutes % _MINUTES:02}")


def _no_time(text: str) -> Answer:
    return Answer(None, UNREADABLE, f"{quoted(text)} cannot be read as a time of day; type it as 09:30")


def read_moments(values: Sequence[object], dates: DateReader, times: TimeReader) -> list[Answer]:
    """Read a column of days with a time of day; the clock on the wall is kept, a zone is not applied."""
    days: list[object] = []
    clocks: list[dt.time | None] = []
    zones: list[str] = []
    bad: dict[int, Answer] = {}
    for i, value in enumerate(values):
        day, clock, zone = value, None, ""
        if isinstance(value, dt.datetime):
            clock, zone = value.timetz().replace(tzinfo=None), str(value.tzinfo or "")
        elif isinstance(value, str):
            day, behind, zone = split_time(tidy(value))
            if behind:
                clock = times.clock(behind)
                if clock is None:
                    bad[i] = _no_moment(value)
        elif isinstance(value, float) and dates.first_serial <= value <= dates.last_serial:
            clock = _clock_of(value % 1)
        days.append(day)
        clocks.append(clock)
        zones.append(zone)
    answers = []
    zoned = [i for i, zone in enumerate(zones) if zone]
    timeless: list[int] = []
    for i, (answer, clock) in enumerate(zip(dates.read(days), clocks, strict=True)):
        if i in bad:
            answers.append(bad[i])
            continue
        day = answer.value
        if not isinstance(day, dt.date):
            answers.append(_no_moment(values[i]) if answer.kind == UNREADABLE else answer)
            continue
        if clock is None:
            timeless.append(i)
        answers.append(
            Answer(dt.datetime.combine(day, clock or dt.time()), answer.kind, answer.remark, answer.shown)
        )
    for rows, kind, says in (
        (zoned, "zone_dropped", "has a time zone; the clock time was kept as it stands"),
        (timeless, "no_time", "has no time of day; it was read as midnight"),
    ):
        free = next((i for i in rows if answers[i].value is not None and not answers[i].kind), None)
        if free is None:
            continue
        more = f"; {len(rows) - 1} more of this column likewise" if len(rows) > 1 else ""
        moment = answers[free].value
        shown = moment.isoformat(sep=" ") if isinstance(moment, dt.datetime) else ""
        answers[free] = Answer(moment, kind, f"{quoted(str(values[free]))} {says}{more}", shown)
    return answers


def _clock_of(fraction: float) -> dt.time:
    """Turn a fraction of a day into a time, to the millisecond: a day number holds no more."""
    micro = dt.timedelta(days=fraction) // dt.timedelta(milliseconds=1)
    rest = dt.timedelta(days=fraction) - dt.timedelta(milliseconds=micro)
    whole = dt.timedelta(milliseconds=micro + (rest >= dt.timedelta(microseconds=500)))
    last = dt.timedelta(days=1) - dt.timedelta(milliseconds=1)
    return (dt.datetime.combine(dt.date(1, 1, 1), dt.time()) + min(whole, last)).time()


def _no_moment(value: object) -> Answer:
    return Answer(
        None,
        UNREADABLE,
        f"{quoted(str(value))} cannot be read as day and time; type it as 2026-05-04 21:30:15",
    )


def time_reader(words: Words) -> TimeReader:
    """Build the reader of times of day."""
    between = "|".join(re.escape(mark) for mark in words.marks("times.between"))
    return TimeReader(
        between=re.compile(rf"^(\d{{1,2}}) ?(?:{between}) ?(?=\d)"),
        behind=words.marks("times.after"),
        morning=words.marks("times.morning"),
        afternoon=words.marks("times.afternoon"),
        missing=words.listed("missing.any") | words.listed("missing.numbers"),
        broken=words.listed("spreadsheet_errors"),
        doubt=doubt_marks(words),
    )

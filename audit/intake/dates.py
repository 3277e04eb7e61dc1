"""Dates as people type them; the order of day and month is decided for the whole column."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.intake.answer import MISSING, UNREADABLE, Answer, quoted
from audit.intake.date_column import DateColumn, impossible
from audit.intake.date_order import ORDERS, DateOrders
from audit.intake.date_text import DateTexts, calendar_day, date_texts
from audit.intake.spreadsheet_days import count_days, find_turned
from audit.intake.words import Words, fold, tidy

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.intake.date_text import DateParts

__all__ = ["DateReader", "date_reader"]

_DAY_NUMBER = re.compile(r"\d{5}(?:[.,]\d+)?")


@dataclass(frozen=True, slots=True)
class DateReader:
    """Reads a column of dates.

    Attributes
    ----------
    year : int or None
        Year of the season, for dates typed without one where no neighbour has one.
    texts : DateTexts
        Takes one date apart.
    orders : DateOrders
        Finds the order of the column.
    missing, broken : frozenset of str
        Words for nothing, and what a spreadsheet shows where it could not compute.
    first_serial, last_serial : int
        Numbers between these are a spreadsheet's day numbers.
    epochs : tuple of date
        Day 0 of each of its date systems.
    turned_from, turned_margin : int
        See `find_turned`.
    """

    year: int | None
    texts: DateTexts
    orders: DateOrders
    missing: frozenset[str]
    broken: frozenset[str]
    first_serial: int
    last_serial: int
    epochs: tuple[dt.date, dt.date]
    turned_from: int
    turned_margin: int

    def read(self, values: Sequence[object]) -> list[Answer]:
        """Read the cells of one column, in sheet order."""
        column = DateColumn([None] * len(values), [None] * len(values))
        texts: dict[str, tuple[DateParts | None, bool]] = {}
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
        count_days(column, self.epochs)
        find_turned(column, real, least=self.turned_from, margin=self.turned_margin)
        return [
            answer or _as_day(day, str(values[i]) if i in column.doubtful else "")
            for i, (answer, day) in enumerate(zip(column.answers, column.days, strict=True))
        ]

    def _take(
        self, text: str, i: int, column: DateColumn, texts: dict[str, tuple[DateParts | None, bool]]
    ) -> None:
        if text not in texts:
            texts[text] = self.texts.apart_or_doubtful(text)
        parts, doubtful = texts[text]
        if parts is None and _DAY_NUMBER.fullmatch(bare := text.strip()):
            number = float(bare.replace(",", "."))
            if self.first_serial <= number <= self.last_serial:
                column.numbers[i] = number
                return
        if doubtful:
            column.doubtful.add(i)
        if parts is not None:
            _keep(parts, text, i, column)
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

    def _take_number(self, value: float, i: int, column: DateColumn) -> None:
        if value != value:  # noqa: PLR0124 - only a missing number differs from itself
            column.answers[i] = MISSING
            return
        if self.first_serial <= value <= self.last_serial:
            column.numbers[i] = float(value)
            return
        text = f"{value:.0f}" if float(value).is_integer() else f"{value:.10g}"
        if len(text) % 2 and float(value).is_integer():
            text = "0" + text  # 4052026 is 04052026 after the nought was lost
        parts = self.texts.apart(text)
        whole, point, decimals = text.partition(".")
        if point and decimals == "1":
            parts = None  # 4.1 may have been 4.10
        if parts is None or "e" in text:
            column.answers[i] = Answer(
                None,
                UNREADABLE,
                f"the number {whole + point + decimals} is no date; type day, month and year",
            )
        else:
            _keep(parts, text, i, column)

    def _settle(self, values: Sequence[object], column: DateColumn) -> None:
        """Decide order and year of the dates that leave them open."""
        if not column.parts:
            return
        years = column.known_years()
        readings = self.orders.readings(column, years)
        order, shown_by = self.orders.order(readings, column)
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
                name = next(name for name in ORDERS if found.get(name) == day)
                column.answers[i] = Answer(
                    day,
                    "date_order",
                    f"{quoted(text)} was read {name}, as {day.isoformat()}, unlike the column's other dates",
                    day.isoformat(),
                )
                continue
            if day is None:
                column.answers[i] = impossible(text)
                continue
            column.days[i] = day
            if parts.year is None and parts.triple is None:
                yearless.append(i)
            elif not shown_by and others and not (order == "day first" and "." in text):
                guessed.append(i)
        column.say_once(
            typed,
            "date_order",
            f"was read {order}, as {{day}}, since nothing in the column shows which number is the month",
            guessed,
        )
        source = "dates beside it" if years else "year of the season"
        column.say_once(
            typed,
            "date_year",
            f"has no year; it was read as {{day}}, by the {source}",
            yearless,
        )


def _keep(parts: DateParts, text: str, i: int, column: DateColumn) -> None:
    """Keep a date: as a day where everything is known, taken apart otherwise."""
    if parts.settled and parts.year is not None:
        column.days[i] = calendar_day(parts.year, parts.month, parts.day)
        if column.days[i] is None:
            column.answers[i] = impossible(text)
    else:
        column.parts[i] = parts


def _as_day(day: dt.date | None, doubtful: str) -> Answer:
    if day is None or not doubtful:
        return Answer(day)
    shown = day.isoformat()
    remark = f"{quoted(doubtful)} was read as {shown}; its mark of doubt is kept as typed only"
    return Answer(day, "uncertain_mark", remark, shown)


def date_reader(words: Words, *, year: int | None = None) -> DateReader:
    """Build the reader of a column of dates."""
    texts = date_texts(words)
    return DateReader(
        year=year,
        texts=texts,
        orders=DateOrders(
            texts,
            year,
            clear_ratio=float(words.setting("dates.clear_ratio")),
            thin_evidence=int(words.setting("dates.thin_evidence")),
            many_last=int(words.setting("dates.many_last")),
        ),
        missing=words.listed("missing.any") | words.listed("missing.numbers"),
        broken=words.listed("spreadsheet_errors"),
        first_serial=int(words.setting("dates.first_serial")),
        last_serial=int(words.setting("dates.last_serial")),
        epochs=(
            dt.date.fromisoformat(words.setting("dates.epoch_1900")),
            dt.date.fromisoformat(words.setting("dates.epoch_1904")),
        ),
        turned_from=int(words.setting("dates.turned_from")),
        turned_margin=int(words.setting("dates.turned_margin")),
    )

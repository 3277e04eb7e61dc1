"""How the values of a column are written, so that what is typed can be held against what may be meant."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.time_of_day import minutes_of
from audit.rules.plain import plain_text

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

__all__ = ["Writing", "of_dates", "of_numbers", "of_times", "of_words"]

_YEARS = 100
_NUMBER = re.compile(r"-?(\d+[.,]?\d*|[.,]\d+)")


@dataclass(frozen=True, slots=True)
class Writing:
    """How the values of one column are written.

    Attributes
    ----------
    kind : str
        ``date``, ``time``, ``number`` or ``word``.
    alphabet : str
        Signs of which the texts are made; empty for words, whose signs are those of the words themselves.
    forms : tuple of str
        Patterns such as ``{d:02}.{m:02}.{y}``, of dates and times.
    unit : float
        Unit of the last digit, of numbers.
    """

    kind: str
    alphabet: str
    forms: tuple[str, ...] = ()
    unit: float = 1.0

    def texts(self, value: str) -> list[str]:
        """All ways in which a value, given as it is suggested, is written in this column."""
        if self.kind == "date":
            day = dt.date.fromisoformat(value)
            return [_of_day(form, day) for form in self.forms]
        if self.kind == "time":
            return [_of_time(form, value) for form in self.forms]
        return [self.same(value)]

    def same(self, text: str) -> str:
        """One form for texts that say the same, such as ``20,50`` and ``20.5``."""
        if self.kind == "word":
            return text.casefold()
        if self.kind != "number":
            return text
        text = text.replace(",", ".")
        if text.count(".") == 1:
            text = text.rstrip("0").removesuffix(".")
        return text

    def is_number(self, typed: str) -> bool:
        """Whether a text in a column of numbers is a number, be it one that the column cannot hold."""
        return self.kind == "number" and _NUMBER.fullmatch(typed) is not None

    def scaled(self, typed: str, parts: Sequence[float]) -> Iterator[tuple[str, float]]:
        """Yield the number typed with its point elsewhere, and the share of such slips.

        Parameters
        ----------
        parts : sequence of float
            How slips divide by the places that the point is off: one, two and so on, to either side alike.
        """
        if not self.is_number(typed):
            return
        value = float(typed.replace(",", "."))
        if value <= 0:
            return
        for places, part in enumerate(parts, 1):
            for other in (value * 10**places, value / 10**places):
                yield plain_text(round(other, 2)), part / (2 * sum(parts))


def of_dates(
    texts: Sequence[str], days: Sequence[dt.date | None], forms: Sequence[str], share: float
) -> Writing:
    """Find out how dates are written: the forms that a share of the column has."""
    pairs = dict.fromkeys((text, day) for text, day in zip(texts, days, strict=True) if day is not None)
    met = Counter(form for form in forms for text, day in pairs if text == _of_day(form, day))
    used = tuple(form for form in forms if met[form] and met[form] >= share * len(pairs)) or (forms[0],)
    return Writing("date", _alphabet(used), used)


def of_times(texts: Sequence[str], times: Sequence[str], forms: Sequence[str], share: float) -> Writing:
    """Find out how times are written."""
    pairs = dict.fromkeys(
        (text, str(time))
        for text, time in zip(texts, times, strict=True)
        # a column that nobody read may hold anything
        if np.isfinite(minutes_of(time))
    )
    met = Counter(form for form in forms for text, time in pairs if text == _of_time(form, time))
    used = tuple(form for form in forms if met[form] and met[form] >= share * len(pairs)) or (forms[0],)
    return Writing("time", _alphabet(used), used)


def of_numbers(texts: Sequence[str], values: Sequence[float], share: float, *, whole: bool) -> Writing:
    """Find out to which unit numbers are written: the finest that more than such a share of them need."""
    unit = 1.0
    if not whole and values:
        for finer, places in ((0.1, 0), (0.01, 1)):
            needed = sum(abs(value - round(value, places)) > finer / 100 for value in values)
            if needed > share * len(values):
                unit = finer
    alphabet = "0123456789"
    if unit < 1:
        alphabet += "," if sum("," in text for text in texts) * 2 > len(texts) else "."
    return Writing("number", alphabet, unit=unit)


def of_words() -> Writing:
    """Words and codes."""
    return Writing("word", "")


def _of_day(form: str, day: dt.date) -> str:
    return form.format(y=day.year, s=f"{day.year % _YEARS:02}", m=day.month, d=day.day)


def _of_time(form: str, time: str) -> str:
    hours, _, minutes = time.partition(":")
    return form.format(h=int(hours), m=int(minutes))


def _alphabet(forms: Sequence[str]) -> str:
    signs = {
        sign
        for form in forms
        for sign in _of_time(form.replace("{y", "{h").replace("{d", "{h").replace("{s", "{h"), "1:1")
    }
    return "0123456789" + "".join(sorted(signs - set("0123456789")))

"""Plain numbers: signs, decimal and thousands marks, fractions; in a column's own unit."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = ["PlainNumber", "PlainNumbers", "decimal_marks"]

_SIGNED = re.compile(r"([+-]?) ?(.+)")
_ONE_MARK = re.compile(r"(\d*)([.,])(\d+)")
_GROUPED = re.compile(r"(\d{1,3})(?:([.,'’ ])\d{3})(?:\2\d{3})*(?:([.,])(\d+))?")
_MARKED = re.compile(r"[+-]?\d*([.,])(\d+)")
_VULGAR = re.compile(r"(\d*) ?([¼½¾⅐-⅞])")
_MIXED = re.compile(r"(\d+) (\d+)/(\d+)")
#: Digits in a group of thousands.
_GROUP = 3


def decimal_marks(texts: Iterable[str]) -> frozenset[str]:
    """Say which marks are surely decimal marks in a column: followed by other than three digits.

    Examples
    --------
    >>> sorted(decimal_marks(["20,5", "1.234"]))
    [',']
    """
    found = set()
    for text in texts:
        match = _MARKED.fullmatch(text.strip())
        if match and len(match[2]) != _GROUP:
            found.add(match[1])
    return frozenset(found)


@dataclass(frozen=True, slots=True)
class PlainNumber:
    """A plain number; `other` is the second way to read it where nothing decides."""

    value: float
    other: float | None = None


@dataclass(frozen=True, slots=True)
class PlainNumbers:
    """Reads plain numbers of one column.

    Attributes
    ----------
    scale : float
        How many units one of the column's own units is.
    whole : bool
        Only whole numbers make sense.
    minimum, maximum : float or None
        Between these values lie, in units; they decide between a decimal and a thousands mark.
    marks : frozenset of str
        Marks that are surely decimal in this column.
    """

    scale: float
    whole: bool
    minimum: float | None
    maximum: float | None
    marks: frozenset[str]

    def read(self, text: str) -> PlainNumber | None:
        """Read a plain number in the column's own unit; None where it is none."""
        match = _SIGNED.fullmatch(text)
        if match is None:
            return None
        sign = -1.0 if match[1] == "-" else 1.0
        value = self._unsigned(match[2])
        if value is None:
            return None
        return PlainNumber(sign * value.value, None if value.other is None else sign * value.other)

    def _unsigned(self, body: str) -> PlainNumber | None:
        if mixed := _MIXED.fullmatch(body):
            below = int(mixed[3])
            return PlainNumber(int(mixed[1]) + int(mixed[2]) / below) if below else None
        if vulgar := _VULGAR.fullmatch(body):
            return PlainNumber(int(vulgar[1] or 0) + unicodedata.numeric(vulgar[2]))
        body = body.rstrip(".,")
        if body.isascii() and body.isdigit():
            return PlainNumber(float(body))
        if one := _ONE_MARK.fullmatch(body):
            return self._one_mark(one[1], one[2], one[3])
        if grouped := _GROUPED.fullmatch(body):
            group, mark, decimals = grouped[2], grouped[3], grouped[4]
            if mark == group:
                return None
            head = body if mark is None else body[: -len(decimals) - 1]
            digits = "".join(sign for sign in head if sign.isdigit())
            return PlainNumber(float(f"{digits}.{decimals or 0}"))
        return None

    def _one_mark(self, before: str, mark: str, after: str) -> PlainNumber:
        decimal = float(f"{before or 0}.{after}")
        if len(after) != _GROUP or not 0 < len(before) <= _GROUP or before[0] == "0":
            return PlainNumber(decimal)
        thousands = float(before + after)
        if self.whole:
            return PlainNumber(decimal if decimal.is_integer() else thousands)
        if mark in self.marks:
            return PlainNumber(decimal)
        if self.marks:
            return PlainNumber(thousands)
        fits = [value for value in (decimal, thousands) if self._in_range(value * self.scale)]
        if len(fits) == 1:
            return PlainNumber(fits[0])
        return PlainNumber(decimal, thousands)

    def _in_range(self, value: float) -> bool:
        return (self.minimum is None or value >= self.minimum) and (
            self.maximum is None or value <= self.maximum
        )

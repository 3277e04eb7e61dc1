"""The value of a formula that is plain arithmetic, as a spreadsheet works it out.

What cannot be worked out for sure has no value: an unknown cell, an error, a text that is no number, a
function that is not known here. An empty cell counts as 0 in sums of two and is passed over in ranges.

References
----------
ISO/IEC 29500-1, 18.17.2 and 18.17.7 (operators; functions). That a difference of two nearly equal numbers is
taken for 0, and numbers are compared by 15 digits, is common practice of spreadsheets.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation
from typing import TYPE_CHECKING, assert_never

from audit.intake.formulas import Area, Binary, Call, Literal, Unary

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from audit.intake.formulas import Node
    from audit.intake.grid import Stored

__all__ = ["NoValueError", "Value", "in_kind", "value_of", "work_out"]

#: What a cell holds in a sum; None where it is empty.
Value = float | str | bool | None

_PLAIN = re.compile(r"\s*[+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)\s*")
_ERRORS = ("#NULL!", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?", "#NUM!", "#N/A")
#: Day 0 of serial dates. A season of the 1904 system gives the same differences of days.
_EPOCH = dt.datetime(1899, 12, 30)  # noqa: DTZ001 - days of a sheet have no zone
#: Numbers above are days of this century when days are among what they were made from.
_FIRST_DAY = 20_000
_NEARLY = 1e-15
_DIGITS = 15
_DAY = dt.timedelta(days=1)


class NoValueError(Exception):
    """A formula has no value that is sure."""


def value_of(stored: Stored) -> Value:
    """Turn a stored value into what a sum takes it for: a day is a number of days, a time a part of a day.

    Raises
    ------
    NoValueError
        It is an error such as ``#N/A``.
    """
    if isinstance(stored, bool) or stored is None:
        return stored
    if isinstance(stored, str):
        if stored.upper().startswith(_ERRORS):
            raise NoValueError
        return stored
    if isinstance(stored, int | float):
        return float(stored)
    if isinstance(stored, dt.datetime):
        return (stored.replace(tzinfo=None) - _EPOCH) / _DAY
    if isinstance(stored, dt.date):
        return float((stored - _EPOCH.date()).days)
    if isinstance(stored, dt.time):
        clock = dt.timedelta(hours=stored.hour, minutes=stored.minute, seconds=stored.second)
        return clock / _DAY
    return stored / _DAY


def in_kind(value: Value, before: Stored) -> Stored:
    """Give a result the kind that the former result of the cell had: a day, a time, or what it is.

    Raises
    ------
    NoValueError
        It is no such day or time.
    """
    dated = isinstance(before, dt.date | dt.time | dt.timedelta)
    if not dated or not isinstance(value, float):
        return value
    try:
        moment = _EPOCH + value * _DAY
    except OverflowError as fault:
        raise NoValueError from fault
    moment = (moment + dt.timedelta(milliseconds=0.5)).replace(microsecond=0)
    if isinstance(before, dt.timedelta):
        return value * _DAY
    if isinstance(before, dt.time):
        return moment.time()
    return moment if isinstance(before, dt.datetime) else moment.date()


def work_out(tree: Node, cells: Callable[[Area], Iterable[Stored]]) -> Value:
    """Work a formula out.

    Parameters
    ----------
    tree : Node
        Of `audit.intake.formulas.formula_of`.
    cells : callable
        Stored values of an area, row by row; raises `NoValueError` where one is not known.

    Raises
    ------
    NoValueError
        It has no value that is sure.

    Examples
    --------
    >>> from audit.intake.formulas import formula_of
    >>> work_out(formula_of("=ROUND(A1-2*A2,1)").tree, lambda area: [20.25 if area.top == 1 else 5])
    10.3
    """
    working = _Sum(cells)
    try:
        value = working.value(tree)
    except (ArithmeticError, InvalidOperation, ValueError) as fault:
        raise NoValueError from fault
    if isinstance(value, float):
        if not math.isfinite(value):
            raise NoValueError
        value = float(f"{value:.{_DIGITS}g}")
        if working.dated and value >= _FIRST_DAY:
            raise NoValueError  # which number a day is depends on the system of the workbook
    return value


class _Sum:
    def __init__(self, cells: Callable[[Area], Iterable[Stored]]) -> None:
        self._read = cells
        self.dated = False

    def _cells(self, area: Area) -> Iterator[Stored]:
        for stored in self._read(area):
            self.dated |= isinstance(stored, dt.date)
            yield stored

    def value(self, node: Node) -> Value:
        if isinstance(node, Literal):
            return node.value
        if isinstance(node, Area):
            if not node.is_cell:
                raise NoValueError  # a range where one value is needed
            (stored,) = self._cells(node)
            return value_of(stored)
        if isinstance(node, Unary):
            number = self._number(node.of)
            return -number if node.sign == "-" else number / 100 if node.sign == "%" else number
        if isinstance(node, Binary):
            return self._binary(node)
        if isinstance(node, Call):
            return self._call(node)
        assert_never(node)

    def _number(self, node: Node) -> float:
        return _number(self.value(node))

    def _binary(self, node: Binary) -> Value:
        sign = node.sign
        if sign == "&":
            return _text(self.value(node.left)) + _text(self.value(node.right))
        if sign in ("=", "<>", "<", ">", "<=", ">="):
            return _compared(sign, self.value(node.left), self.value(node.right))
        left, right = self._number(node.left), self._number(node.right)
        if sign in ("+", "-"):
            result = left + right if sign == "+" else left - right
            return 0.0 if abs(result) <= _NEARLY * max(abs(left), abs(right)) else result
        if sign == "*":
            return left * right
        if sign == "/":
            return left / right
        if left < 0 and right % 1:
            raise NoValueError
        return float(left**right)

    def _call(self, node: Call) -> Value:
        name, given = node.name, node.arguments
        if name == "IF" and len(given) in (2, 3):
            if _truth(self.value(given[0])):
                return self._or_zero(given[1])
            return self._or_zero(given[2]) if len(given) > 2 else False  # noqa: PLR2004 - condition, then, else
        if name in ("AND", "OR") and given:
            truths = [_truth(self.value(one)) for one in given]
            return all(truths) if name == "AND" else any(truths)
        if name == "NOT" and len(given) == 1:
            return not _truth(self.value(given[0]))
        if name == "ISBLANK" and len(given) == 1 and isinstance(given[0], Area):
            return self.value(given[0]) is None
        if name == "ISNUMBER" and len(given) == 1:
            return type(self.value(given[0])) is float
        if name == "ABS" and len(given) == 1:
            return abs(self._number(given[0]))
        if name == "ROUND" and len(given) == 2:  # noqa: PLR2004 - number and places
            return _rounded(self._number(given[0]), self._number(given[1]))
        return self._of_many(name, given)

    def _or_zero(self, node: Node) -> Value:
        value = self.value(node)
        return 0.0 if value is None else value

    def _of_many(self, name: str, given: Iterable[Node]) -> float:
        if name not in ("SUM", "AVERAGE", "MIN", "MAX", "COUNT"):
            raise NoValueError
        numbers: list[float] = []
        for node in given:
            if isinstance(node, Area):
                values = map(value_of, self._cells(node))
                numbers += [one for one in values if type(one) is float]
            else:
                numbers.append(self._number(node))
        if name == "COUNT":
            return float(len(numbers))
        if name == "AVERAGE":
            return math.fsum(numbers) / len(numbers)
        if name == "SUM":
            return math.fsum(numbers)
        return (min if name == "MIN" else max)(numbers, default=0.0)


def _number(value: Value) -> float:
    if value is None:
        return 0.0
    if isinstance(value, str):
        if not _PLAIN.fullmatch(value):
            raise NoValueError
        return float(value)
    return float(value)


def _text(value: Value) -> str:
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, float):
        return f"{value:.{_DIGITS}g}"
    return value or ""


def _truth(value: Value) -> bool:
    if isinstance(value, str):
        raise NoValueError
    return bool(value)


def _compared(sign: str, left: Value, right: Value) -> bool:
    one, other = _rank(left, right), _rank(right, left)
    if sign in ("=", "<>"):
        return (one == other) == (sign == "=")
    less, equal = one < other, one == other
    return {"<": less, "<=": less or equal, ">": not (less or equal), ">=": not less}[sign]


def _rank(value: Value, beside: Value) -> tuple[int, float, str]:
    """Order of values: numbers, texts, truth values; an empty cell is what stands beside it."""
    if value is None:
        value = "" if isinstance(beside, str) else False if isinstance(beside, bool) else 0.0
    if isinstance(value, str):
        return 1, 0.0, value.casefold()
    if isinstance(value, bool):
        return 2, float(value), ""
    return 0, float(f"{value:.{_DIGITS}g}"), ""


def _rounded(number: float, places: float) -> float:
    step = Decimal(1).scaleb(-int(places))
    return float((Decimal(repr(number)) / step).quantize(Decimal(1), ROUND_HALF_UP) * step)

"""A sum typed into a cell, such as ``395-22``: numbers, four operations and brackets, nothing else."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["work_out"]

_TOKEN = re.compile(r"\s*(?:(?P<number>\d[\d.,]*|[.,]\d+)|(?P<sign>[-+*/()]))")
_SIGNS = str.maketrans({"×": "*", "÷": "/", "·": "*", "x": "*", "X": "*"})


class _NotASumError(Exception):
    """The text is no sum."""


def work_out(text: str, number: Callable[[str], float | None], longest: int) -> float | None:
    """Compute a sum of plain numbers; nothing is ever executed.

    Parameters
    ----------
    text : str
        Such as ``395-22`` or ``(395 - 22) / 2``.
    number : callable
        Reads one plain number, None when it is none.
    longest : int
        Longer texts are no sums: it bounds the work, since the text may come from anybody.

    Returns
    -------
    float or None
        The result; None when the text is no sum of at least two numbers or has no finite result.

    Examples
    --------
    >>> work_out("2*(395-22)", float, 80)
    746.0
    >>> work_out("open('x')", float, 80) is None
    True
    """
    if len(text) > longest:
        return None
    tokens = _tokens(text.translate(_SIGNS))
    if tokens is None or sum(token[0] not in "-+*/()" for token in tokens) < 2:  # noqa: PLR2004 - one number is no sum
        return None
    try:
        result, rest = _add(tokens, number)
    except (_NotASumError, ZeroDivisionError, OverflowError):
        return None
    return result if not rest and math.isfinite(result) else None


def _tokens(text: str) -> list[str] | None:
    tokens, at = [], 0
    text = text.rstrip()
    while at < len(text):
        match = _TOKEN.match(text, at)
        if match is None:
            return None
        tokens.append(match["number"] or match["sign"])
        at = match.end()
    return tokens


def _add(tokens: list[str], number: Callable[[str], float | None]) -> tuple[float, list[str]]:
    result, tokens = _multiply(tokens, number)
    while tokens and tokens[0] in "+-":
        sign = tokens[0]
        value, tokens = _multiply(tokens[1:], number)
        result = result + value if sign == "+" else result - value
    return result, tokens


def _multiply(tokens: list[str], number: Callable[[str], float | None]) -> tuple[float, list[str]]:
    result, tokens = _single(tokens, number)
    while tokens and tokens[0] in "*/":
        sign = tokens[0]
        value, tokens = _single(tokens[1:], number)
        result = result * value if sign == "*" else result / value
    return result, tokens


def _single(tokens: list[str], number: Callable[[str], float | None]) -> tuple[float, list[str]]:
    if not tokens:
        raise _NotASumError
    first, rest = tokens[0], tokens[1:]
    if first == "(":
        value, rest = _add(rest, number)
        if not rest or rest[0] != ")":
            raise _NotASumError
        return value, rest[1:]
    if first in "+-":
        value, rest = _single(rest, number)
        return (-value if first == "-" else value), rest
    read = number(first) if first[0] not in "*/)" else None
    if read is None:
        raise _NotASumError
    return read, rest

"""What a spreadsheet makes of a code that it takes for a number, or that is drawn down."""

from __future__ import annotations

import re
from decimal import Decimal

__all__ = ["next_code", "rounded", "scientific"]

_TEN = 10
#: A double holds any number of 15 digits (IEEE 754), and spreadsheets keep no more.
_KEPT_DIGITS = 15
#: Spreadsheets show numbers of more digits than this with an exponent, to so many decimals.
_PLAIN_DIGITS = 11
_SHOWN_DECIMALS = (2, 5)


def rounded(code: str) -> str:
    """Write a code of digits as a spreadsheet that took it for a number; empty where nothing is lost."""
    return code[:_KEPT_DIGITS] + "0" * (len(code) - _KEPT_DIGITS) if len(code) > _KEPT_DIGITS else ""


def scientific(code: str) -> set[str]:
    """Ways in which a spreadsheet shows a long code of digits that it took for a number."""
    number = Decimal(code)
    if number < _TEN**_PLAIN_DIGITS:
        return set()
    forms = set()
    for decimals in _SHOWN_DECIMALS:
        shown = f"{number:.{decimals}E}"
        mantissa, _, exponent = shown.partition("E")
        for text in (shown, f"{mantissa.rstrip('0').rstrip('.')}E{exponent}"):
            forms |= {text, text.replace(".", ",")}
    return forms


def next_code(code: str) -> str:
    """Count a code on by one, as a spreadsheet does where a cell is drawn down."""
    found = re.fullmatch(rf"(.*?)([0-9]{{1,{_KEPT_DIGITS}}})", code, flags=re.DOTALL)
    return f"{found[1]}{int(found[2]) + 1:0{len(found[2])}d}" if found else ""

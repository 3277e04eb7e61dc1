"""Codes of boxes, tags and antennas: every text that stands in a log, however it is written."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from audit.intake.codes import clean_code
from audit.intake.headers import fold
from audit.models.reads import INNER, OUTER
from audit.models.tag_text import comparable

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

__all__ = ["antenna_code", "box_codes", "tag_codes"]

_SHORTENED = re.compile(r"\d+(?:[.,]\d+)?E\+?\d+")
_POINT_ZERO = re.compile(r"(\d{8,})[.,]0+")


def box_codes(texts: Iterable[str]) -> tuple[list[str], dict[str, int]]:
    """Give numbers to boxes in the order of their labels.

    Parameters
    ----------
    texts : iterable of str
        As they stand in the files.

    Returns
    -------
    labels : list of str
        By code.
    codes : dict
        Text -> code; blank texts have none.

    Examples
    --------
    >>> box_codes(["SL-02", "SL-01", "sl-01 ", ""])
    (['SL-01', 'SL-02'], {'SL-01': 0, 'sl-01 ': 0, 'SL-02': 1})
    """
    return _coded({text: clean_code(text) for text in texts})


def tag_codes(texts: Iterable[str]) -> tuple[list[str], dict[str, int]]:
    """Give numbers to tags in the order of their labels; ways of writing one tag have one code.

    Texts without a digit, and numbers that a spreadsheet shortened, have none.

    Examples
    --------
    >>> tag_codes(["999000000001337", "3E7.0000000539", "9.99E+14", "error"])[1]
    {'3E7.0000000539': 0, '999000000001337': 0}
    """
    keys = {}
    for text in texts:
        code = clean_code(text)
        if whole := _POINT_ZERO.fullmatch(code):
            code = whole[1]
        is_tag = any(sign.isdigit() for sign in code) and not (_SHORTENED.fullmatch(code) and "+" in code)
        keys[text] = comparable(code) if is_tag else ""
    return _coded(keys)


def _coded(keys: Mapping[str, str]) -> tuple[list[str], dict[str, int]]:
    """Give numbers to keys by the first of their texts, digits before letters."""
    labels: dict[str, str] = {}
    for text in sorted(
        keys, key=lambda text: (not text.strip().isdigit(), not text.isupper(), text.strip(), text)
    ):
        if keys[text]:
            labels.setdefault(keys[text], text.strip())
    numbers = {key: nr for nr, key in enumerate(sorted(labels, key=lambda key: labels[key]))}
    ordered = sorted((text for text in keys if keys[text]), key=lambda text: (numbers[keys[text]], text))
    return [labels[key] for key in numbers], {text: numbers[keys[text]] for text in ordered}


def antenna_code(text: str, words: Mapping[str, str]) -> int | None:
    """Say which antenna a word means; None where it is not known.

    Examples
    --------
    >>> antenna_code(" Outer", {"outer": "outer"}), antenna_code("1", {"outer": "outer"})
    (0, None)
    """
    which = words.get(fold(text))
    return None if which is None else {"outer": OUTER, "inner": INNER}[which]

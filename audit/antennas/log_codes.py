"""Codes of boxes, tags and antennas: every text that stands in a log, however it is written."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from audit.intake.codes import clean_code
from audit.intake.headers import fold
from audit.models.reads import INNER, OUTER
from audit.models.tag_text import comparable

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

__all__ = ["antenna_code", "box_codes", "is_shortened", "tag_codes"]

_SHORTENED = re.compile(r"\d+(?:[.,]\d+)?E\+?\d+")
_POINT_ZERO = re.compile(r"(\d{8,})[.,]0+")
_DIGITS = 15
_WORD = re.compile(r"[^\W\d_]{2,}")
#: Left where a logger lost its power while it wrote.
_HOLE = "\0"


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
    cleaned = {text: clean_code(text.replace(_HOLE, "")) for text in texts}
    return _coded(cleaned, lambda text: text.replace(_HOLE, "").strip())


def tag_codes(texts: Iterable[str]) -> tuple[list[str], dict[str, int]]:
    """Give numbers to tags in the order of their labels; ways of writing one tag have one code.

    Texts without a digit, and numbers that a spreadsheet shortened, have none. Fourteen digits are fifteen
    that lost their leading nought where the same log holds these.

    Examples
    --------
    >>> tag_codes(["999000000001337", "3E7.0000000539", "9.99E+14", "error"])[1]
    {'3E7.0000000539': 0, '999000000001337': 0}
    """
    keys = {}
    for text in texts:
        code = _tag_code(text)
        is_tag = any(sign.isdigit() for sign in code) and not is_shortened(code)
        keys[text] = comparable(code) if is_tag else ""
    whole = {key for key in keys.values() if len(key) == _DIGITS}
    for text in keys:
        code = _tag_code(text)
        if len(code) < _DIGITS and code.isdigit() and (longer := code.zfill(_DIGITS)) in whole:
            keys[text] = longer
    return _coded(keys, _tag_label)


def is_shortened(text: str) -> bool:
    """Whether a spreadsheet made a short number with a power of ten of a long one.

    Examples
    --------
    >>> is_shortened("9,85E+14"), is_shortened("0110ABCDE1")
    (True, False)
    """
    code = clean_code(text)
    return bool(_SHORTENED.fullmatch(code)) and "+" in code


def _tag_code(text: str) -> str:
    code = clean_code(text.replace(_HOLE, ""))
    whole = _POINT_ZERO.fullmatch(code)
    return whole[1] if whole else code


def _tag_label(text: str) -> str:
    code = _tag_code(text)
    return code if code.isdigit() else text.replace(_HOLE, "").strip()


def _coded(keys: Mapping[str, str], label: Callable[[str], str]) -> tuple[list[str], dict[str, int]]:
    """Give numbers to keys by the first of their texts, digits before letters."""
    labels: dict[str, str] = {}
    for text in sorted(
        keys,
        # the longest of several numbers lost no noughts
        key=lambda text: (
            not label(text).isdigit(),
            -len(label(text)),
            not text.isupper(),
            label(text),
            text,
        ),
    ):
        if keys[text]:
            labels.setdefault(keys[text], label(text))
    numbers = {key: nr for nr, key in enumerate(sorted(labels, key=lambda key: labels[key]))}
    ordered = sorted((text for text in keys if keys[text]), key=lambda text: (numbers[keys[text]], text))
    return [labels[key] for key in numbers], {text: numbers[keys[text]] for text in ordered}


def antenna_code(text: str, words: Mapping[str, str]) -> int | None:
    """Say which antenna a word means, or the one such word in a text; None where it is not known.

    Examples
    --------
    >>> antenna_code(" Outer", {"outer": "outer"}), antenna_code("1", {"outer": "outer"})
    (0, None)
    >>> antenna_code("SL-03 outer antenna", {"outer": "outer", "inner": "inner"})
    0
    """
    which = words.get(fold(text.replace(_HOLE, "")))
    if which is None:
        found = {words[word] for one in _WORD.findall(text) if (word := fold(one)) in words}
        which = found.pop() if len(found) == 1 else None
    return None if which is None else {"outer": OUTER, "inner": INNER}[which]

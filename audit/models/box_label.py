"""Labels of boxes: which of two spellings mean the same box, and which of two comes first."""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["joined_alike", "joined_otherwise", "natural_order", "same_box"]

_JOINTS = re.compile(r"[^0-9A-Z]+")
_PIECE = re.compile(r"[0-9]+|[^0-9]+")
_PIECE_APART = re.compile(r"[0-9]+|[^\W\d_]+")
_LABEL = re.compile(r"(.*?)([0-9]+)([A-Z]?)")


def natural_order(label: str) -> list[tuple[int, str]]:
    """Sort key by which SL-9 stands before SL-10.

    Figures are compared by length first, so that no number is too long.

    Examples
    --------
    >>> sorted(["SL-10", "SL-9", "SL-009"], key=natural_order)
    ['SL-9', 'SL-009', 'SL-10']
    """
    return [
        (len(figures := piece.lstrip("0")), figures) if "0" <= piece[0] <= "9" else (-1, piece)
        for piece in _PIECE.findall(label)
    ]


def same_box(known: str, typed: str, look_alikes: Mapping[int, str]) -> bool:
    """Whether two labels are spellings of one: joints, leading zeros and look-alike letters apart.

    Parameters
    ----------
    known : str
        A label that exists.
    typed : str
        A label as typed.
    look_alikes : mapping of int to str
        Letters and the digits they look like, for `str.translate`.

    Examples
    --------
    >>> fold = {ord("O"): "0", ord("L"): "1", ord("S"): "5"}
    >>> [same_box("SL-01", typed, fold) for typed in ("SL-1", "SL_01", "SL-O1", "SL0L", "SL-11")]
    [True, True, True, True, False]
    """
    plain, other = _plain(known), _plain(typed)
    folded = other.translate(look_alikes)
    if plain.translate(look_alikes) == folded:
        return True
    parts = _LABEL.fullmatch(plain)
    if parts is None:
        return False
    front, number, end = parts[1].translate(look_alikes), parts[2], parts[3]
    if not folded.startswith(front) or not other.endswith(end):
        return False
    rest = folded[len(front) : len(folded) - len(end)]
    return rest.isascii() and rest.isdigit() and int(rest) == int(number)


def joined_otherwise(known: str, typed: str) -> bool:
    """Whether two labels differ in capitals, and in the signs between letters and figures, alone.

    Signs between two figures count: 1-12 and 11-2 are two boxes.

    Examples
    --------
    >>> [joined_otherwise("SL-01", typed) for typed in ("SL01", "sl 01", "SL_01", "SL-1", "SL-01")]
    [True, True, True, False, False]
    >>> joined_otherwise("1-12", "11-2")
    False
    """
    return known != typed and joined_alike(known) == joined_alike(typed)


@cache
def joined_alike(label: str) -> str:
    """Write a label in capitals, with a hyphen between its letters and figures, however they were joined.

    Examples
    --------
    >>> [joined_alike(label) for label in ("SL-01", "sl 01", "SL01", "1/12", "Old barn")]
    ['SL-01', 'SL-01', 'SL-01', '1-12', 'OLD-BARN']
    """
    return "-".join(_PIECE_APART.findall(label.upper()))


@cache
def _plain(label: str) -> str:
    """Write a label without joints; a season has but some thousand labels, each compared with many."""
    return _JOINTS.sub("", label.upper())

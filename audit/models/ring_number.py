"""The number on a ring: prefix and serial number, and what may happen to it when it is copied."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING

from audit.models.spelling import edits_between, one_slip_apart, rare_slip

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

__all__ = [
    "CLAUSES",
    "SERIAL",
    "bare",
    "join_ring",
    "look_alike_table",
    "next_code",
    "ring_slip",
    "split_ring",
]

#: Anything, then the digits at the end: the serial number.
SERIAL = r"^(.*?)([0-9]*)$"

_SEPARATORS = str.maketrans("", "", "-./_")

#: A slip as a clause for the person who typed it.
CLAUSES: Mapping[str, str] = {
    "changed": "one character differs",
    "exchanged": "two neighbours are exchanged",
    "dropped": "one character is missing",
    "doubled": "one character stands twice",
    "added": "there is one character too many",
    "hyphen": "the hyphen stands elsewhere",
    "look-alike": "a letter and a digit that look alike were confused",
    "prefix": "the prefix is missing",
    "jump": "two digits around another are exchanged",
    "twin": "a pair of digits differs",
    "jump_twin": "two like digits around another differ",
    "phonetic": "a ten and its teen, such as 30 and 13, were confused",
    "cut": "two digits are missing",
    "copied": "the number of another row was copied",
    "two": "two characters differ",
    "noise": "there are signs that belong to no ring",
}


@lru_cache(maxsize=1 << 16)
def split_ring(text: str) -> tuple[str, str]:
    """Split a ring number into what stands in front and the digits of its serial number.

    Examples
    --------
    >>> split_ring("SV01234"), split_ring("1177-04742"), split_ring("0123456")
    (('SV', '01234'), ('1177-', '04742'), ('', '0123456'))
    """
    found = re.fullmatch(SERIAL[1:-1], text, flags=re.DOTALL)
    return (found[1], found[2]) if found else (text, "")


def join_ring(stem: str, serial: int, width: int) -> str:
    """Write a ring number: the stem, then the serial number with leading zeros."""
    return f"{stem}{serial:0{width}d}"


@lru_cache(maxsize=1 << 12)
def bare(text: str) -> str:
    """Leave hyphens and other separators out."""
    return text.translate(_SEPARATORS)


def look_alike_table(pairs: Iterable[str]) -> dict[int, str]:
    """Make a table that turns letters into the digits they look like, from pairs such as ``O0``."""
    return {ord(pair[0]): pair[1] for pair in pairs}


def ring_slip(meant: str, typed: str, look_alikes: Mapping[int, str], *, two: bool = False) -> str:
    """Name the slip that turns the number on a ring into what was typed.

    Parameters
    ----------
    meant, typed : str
        Ring numbers in capitals.
    look_alikes : mapping of int to str
        From `look_alike_table`.
    two : bool
        Whether two slips at once count too.

    Returns
    -------
    str
        A kind of slip, a key of `CLAUSES`; empty when no single slip does it.
    """
    if meant == typed:
        return ""
    if bare(meant) == bare(typed):
        return "hyphen"
    if meant.translate(look_alikes) == typed.translate(look_alikes):
        return "look-alike"
    kind = one_slip_apart(meant, typed) or rare_slip(meant, typed)
    if kind:
        return kind
    stem, serial = split_ring(meant)
    if stem and typed == serial:
        return "prefix"
    if typed.startswith(stem) and len(typed) == len(meant) - 2 and _lies_in(typed, meant):
        return "cut"
    if two and edits_between(meant, typed, 2) <= 2:  # noqa: PLR2004 - as many slips at once
        return "two"
    return ""


def _lies_in(short: str, long: str) -> bool:
    """Whether the short text is the long one with characters left out."""
    rest = iter(long)
    return all(character in rest for character in short)


def next_code(code: str) -> str:
    """Count a code on by one, as a spreadsheet does where a cell is drawn down; empty without digits."""
    stem, digits = split_ring(code)
    return join_ring(stem, int(digits) + 1, len(digits)) if digits else ""

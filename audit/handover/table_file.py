"""A table as a CSV file that a spreadsheet may open: no text of a sheet is run as a formula."""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

__all__ = ["guard", "unguard", "write_table"]

#: A spreadsheet takes a text that starts with one of these for a formula.
_FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")


def guard(text: str) -> str:
    """Put an apostrophe before a text that a spreadsheet would run as a formula; numbers stay as they are.

    Examples
    --------
    >>> guard("=F2-G2"), guard("-4.5"), guard("SV01001")
    ("'=F2-G2", '-4.5', 'SV01001')
    """
    return f"'{text}" if _runs(text) else text


def unguard(text: str) -> str:
    """Give back what `guard` was given.

    Examples
    --------
    >>> unguard("'=F2-G2"), unguard("'quoted")
    ('=F2-G2', "'quoted")
    """
    return text[1:] if text.startswith("'") and _runs(text[1:]) else text


def _runs(text: str) -> bool:
    # Leading apostrophes count as well, else a typed apostrophe could not be told from the guard.
    bare = text.lstrip("'")
    if not bare.startswith(_FORMULA_SIGNS):
        return False
    return bare != text or not _is_number(text)


def _is_number(text: str) -> bool:
    digits = text[1:].replace(".", "", 1)
    return text[0] in "+-" and digits.isascii() and digits.isdigit()


def write_table(path: Path, rows: Iterable[Sequence[object]]) -> None:
    """Write rows, the head first: UTF-8, and texts that a spreadsheet would run are guarded.

    Parameters
    ----------
    path : Path
    rows : iterable of sequence
        Texts are guarded; numbers are written as they are, None as an empty cell.
    """
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerows([guard(one) if isinstance(one, str) else one for one in row] for row in rows)

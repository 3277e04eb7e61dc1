"""References to tables of a workbook, such as ``Birds[[#This Row],[Gross (g)]]``, as the cells they mean.

References
----------
ISO/IEC 29500-1, 18.5.1.2 (``table``: range, header row, totals row); [MS-XLSX], 2.2.2 (grammar of
``structure-reference``: keywords, ranges of columns, the tick before signs of the grammar itself).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING

from audit.intake.grid import column_letter

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from audit.intake.formulas import Place

__all__ = ["SheetTable", "bracketed", "cells_meant"]

_GROUP = r"\[(?:'.|[^'\[\]])*\]"
#: A keyword or column in brackets, or a column without them, and the sign behind it.
_ITEM = re.compile(rf"\s*(?P<item>{_GROUP}|(?:'.|[^'\[\],:])+?)\s*(?P<sign>[,:]|$)", re.DOTALL)
_BRACKETS = re.compile(r"'.|[\[\]]", re.DOTALL)
_TICKED = re.compile(r"'(['\[\]#@])")
_THIS_ROW = frozenset(["#this row"])
#: Keywords that may stand together -> from which part of the table to which.
_PARTS = {
    frozenset[str](): ("data", "data"),
    frozenset(["#data"]): ("data", "data"),
    frozenset(["#all"]): ("headers", "totals"),
    frozenset(["#headers"]): ("headers", "headers"),
    frozenset(["#totals"]): ("totals", "totals"),
    frozenset(["#headers", "#data"]): ("headers", "data"),
    frozenset(["#data", "#totals"]): ("data", "totals"),
}


@dataclass(frozen=True, slots=True)
class SheetTable:
    """A range of a sheet that has a name and named columns.

    Attributes
    ----------
    name, sheet : str
        Name by which formulas call it, and the sheet on which it lies.
    top, left, bottom, right : int
        From 1, ends included, with header and totals.
    columns : tuple of str
        From left to right.
    headers, totals : int
        Rows of its header, and of its totals.
    letters : mapping of str to str
        Letter of each column, by its name in small letters.
    """

    name: str
    sheet: str
    top: int
    left: int
    bottom: int
    right: int
    columns: tuple[str, ...]
    headers: int = 1
    totals: int = 0
    letters: Mapping[str, str] = field(init=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        # of two that have the same name the first is called by it
        numbers = reversed(list(enumerate(self.columns, self.left - 1)))
        letters = {name.casefold(): column_letter(number) for number, name in numbers}
        object.__setattr__(self, "letters", letters)

    def holds(self, place: Place) -> bool:
        """Whether a cell lies in it."""
        sheet, row, column = place
        return (
            sheet == self.sheet.casefold()
            and self.top <= row <= self.bottom
            and self.left <= column <= self.right
        )


def bracketed(text: str, at: int) -> int:
    """End of a group of brackets that may hold others; a tick takes the meaning from the sign behind it.

    Examples
    --------
    >>> text = "[[#All],[Gross '[g']]]-1"
    >>> text[: bracketed(text, 0)]
    "[[#All],[Gross '[g']]]"
    """
    depth = 0
    for sign in _BRACKETS.finditer(text, at):
        depth += {"[": 1, "]": -1}.get(sign[0], 0)
        if depth == 0:
            return sign.end()
    return len(text)


def cells_meant(table: SheetTable, brackets: str, here: Place | None) -> str | None:
    """Write a reference to a table as the range of cells that it means, without its sheet.

    Parameters
    ----------
    brackets : str
        What stands behind the name of the table, with the outer brackets.
    here : place or None
        Cell of the formula, which says which row is "this row".

    Returns
    -------
    str or None
        None where it means nothing in this table: another column, totals that are not shown.

    Examples
    --------
    >>> birds = SheetTable("Birds", "Round", 2, 1, 9, 3, ("Ring", "Gross (g)", "Bag (g)"))
    >>> cells_meant(birds, "[[#This Row],[Gross (g)]]", ("round", 4, 7)), cells_meant(birds, "[Ring]", None)
    ('$B$4', '$A$3:$A$9')
    """
    taken = _taken_apart(brackets[1:-1].strip())
    if taken is None:
        return None
    keywords, names = taken
    rows = _rows(table, keywords, here)
    ends = column_letter(table.left - 1), column_letter(table.right - 1)
    columns = [_column(table, name) for name in names] or list(ends)
    if rows is None or None in columns:
        return None
    first, last = f"${columns[0]}${rows[0]}", f"${columns[-1]}${rows[1]}"
    return first if first == last else f"{first}:{last}"


@lru_cache(maxsize=1 << 10)
def _taken_apart(inside: str) -> tuple[frozenset[str], tuple[str, ...]] | None:
    """Keywords in small letters, and one column, or two that bound a range; None where it is neither."""
    if inside.startswith("@"):
        rest = inside[1:].strip()
        taken = _taken_apart(rest)
        return None if taken is None or taken[0] else (_THIS_ROW, taken[1])
    if not inside.startswith(("[", "#")):
        return frozenset(), (inside,) if inside else ()
    keywords: set[str] = set()
    columns: list[str] = []
    before = ","
    for item, sign in _items(inside if inside.startswith("[") else f"[{inside}]"):
        name = item[1:-1] if item.startswith("[") else item
        if item.startswith("[") and name.strip().startswith("#"):
            keywords.add(" ".join(name.casefold().split()))
            wrong = columns or ":" in (before, sign)
        else:
            columns.append(name)
            wrong = len(columns) > (1 if before == "," else 2)
        if wrong:
            return None
        before = sign
    return None if before else (frozenset(keywords), tuple(columns))


def _items(inside: str) -> Iterator[tuple[str, str]]:
    """Items and the sign behind each; one that is no item ends with a sign, as if it were missing."""
    at = 0
    while at < len(inside):
        match = _ITEM.match(inside, at)
        if match is None:
            yield "", ","
            return
        yield match["item"], match["sign"]
        at = match.end()


def _rows(table: SheetTable, keywords: frozenset[str], here: Place | None) -> tuple[int, int] | None:
    first, last = table.top + table.headers, table.bottom - table.totals
    if keywords == _THIS_ROW:
        inside = here is not None and here[0] == table.sheet.casefold() and first <= here[1] <= last
        return (here[1], here[1]) if here is not None and inside else None
    if keywords not in _PARTS:
        return None
    start, end = _PARTS[keywords]
    tops = {"headers": table.top, "data": first, "totals": last + 1}
    bottoms = {"headers": first - 1, "data": last, "totals": table.bottom}
    rows = tops[start], bottoms[end]
    return rows if rows[0] <= rows[1] else None


def _column(table: SheetTable, name: str) -> str | None:
    plain = _TICKED.sub(r"\1", name) if "'" in name else name
    return table.letters.get(plain.casefold()) or table.letters.get(plain.strip().casefold())

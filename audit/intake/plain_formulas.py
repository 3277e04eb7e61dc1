"""Formulas that call tables and names, written with the cells and constants that these stand for.

What stands for no cell that is sure stays as it is: `audit.intake.formulas.formula_of` then says that the
formula may depend on anything.

References
----------
ISO/IEC 29500-1, 18.2.5 (``definedName``: names of a sheet go before those of the workbook).
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from audit.intake.filled_ranges import in_one_cell
from audit.intake.formulas import CONSTANT, TOKEN
from audit.intake.table_references import bracketed, cells_meant

if TYPE_CHECKING:
    from audit.intake.book_names import BookNames
    from audit.intake.formulas import Area, Place
    from audit.intake.table_references import SheetTable

__all__ = ["PlainFormulas", "quoted_sheet"]

#: A name of another file, and what it holds.
_OTHER_FILE = re.compile(r"\s*(?:\[[^\[\]']*\](?:[^\W\d][\w.]*)?|'(?:[^']|'')*\[(?:[^']|'')*')!")
_NAME = re.compile(r"\s*(?P<sheet>'(?:[^']|'')+'!|[^\W\d][\w.]*!)?(?P<name>(?:[^\W\d]|\\)[\w.\\?]*)")
_BRACKET = re.compile(r"\s*(?=\[)")
_REST = re.compile(r"\s*(?:[\w.\\!?]+|.)", re.DOTALL)
_STAYS = re.compile(r"\$[A-Za-z]+\$[0-9]+|\$[A-Za-z]+|\$[0-9]+")
_SIMPLE = re.compile(r"[^\W\d]\w*")
#: A formula of a spreadsheet has no more signs than this (limit of spreadsheet programs, from memory).
_LONGEST = 8192
_DEEPEST = 16  # names that stand for names


class PlainFormulas:
    """Writer of plain formulas for one workbook.

    Parameters
    ----------
    names : BookNames
        What its formulas may call by name.
    """

    def __init__(self, names: BookNames) -> None:
        self._names = names
        self._tables = {table.name.casefold(): table for table in names.tables}
        self._known: dict[tuple[str, str], str | None] = {}

    def plain(self, text: str, here: Place, filled: Area | None = None) -> str:
        """Write a formula without tables and names.

        Parameters
        ----------
        text : str
            With its equals sign.
        here : place
            Cell in which it stands.
        filled : Area, optional
            Range that it fills with its results.

        Examples
        --------
        >>> from audit.intake.book_names import BookNames
        >>> names = BookNames(names={("", "tare"): "22", ("", "bag"): "Round!$L$1"})
        >>> PlainFormulas(names).plain("=F3-tare-ROUND(bag,1)-other", ("round", 3, 8))
        '=F3-(22)-ROUND((Round!$L$1),1)-other'
        """
        if len(text) > _LONGEST:
            return text
        if filled is not None:
            first = (here[0], filled.top, filled.left)
            return in_one_cell(self.plain(text, first), filled, here[1], here[2])
        if not self._names:
            return text
        return f"={self._written(text.removeprefix('='), here, 0)}"

    def _written(self, text: str, here: Place | None, depth: int) -> str:
        parts: list[str] = []
        at = size = 0
        while at < len(text):
            match = TOKEN.match(text, at) or CONSTANT.match(text, at)
            if match is not None:
                end, written = match.end(), None
            else:
                end, written = self._called(text, at, here, depth)
            if written is not None and text[at].isspace():
                written = f" {written}"  # a blank between two ranges is a sign
            parts.append(text[at:end] if written is None else written)
            size += len(parts[-1])
            if size > _LONGEST:
                return text
            at = end
        return "".join(parts)

    def _called(self, text: str, at: int, here: Place | None, depth: int) -> tuple[int, str | None]:
        """Find where what is called by name ends, and what it stands for; None where that is not sure."""
        other = _OTHER_FILE.match(text, at)
        if other is not None:
            name = _NAME.match(text, other.end())
            end = name.end() if name is not None else other.end()
            return (bracketed(text, end) if text[end : end + 1] == "[" else end), None
        bracket = _BRACKET.match(text, at)
        if bracket is not None:
            end = bracketed(text, bracket.end())
            own = [table for table in self._names.tables if here is not None and table.holds(here)]
            return end, self._cells(own[0], text[bracket.end() : end], here) if own else None
        name = _NAME.match(text, at)
        if name is None:
            rest = _REST.match(text, at)
            return (rest.end() if rest is not None else len(text)), None
        end = name.end()
        table = self._tables.get(name["name"].casefold()) if not name["sheet"] else None
        if text[end : end + 1] == "[":
            last = bracketed(text, end)
            return last, self._cells(table, text[end:last], here) if table is not None else None
        if text[end : end + 1] in ("!", ":", "#", "("):
            return (
                end,
                None,
            )  # sheets from one to another, a range from a name on, cells that a result spills to
        if table is not None:
            return end, self._cells(table, "[]", here)
        return end, self._constant(name["sheet"] or "", name["name"], here, depth)

    def _cells(self, table: SheetTable, brackets: str, here: Place | None) -> str | None:
        cells = cells_meant(table, brackets, here)
        if cells is None or (here is not None and here[0] == table.sheet.casefold()):
            return cells
        return f"{quoted_sheet(table.sheet)}!{cells}"

    def _constant(self, sheet: str, name: str, here: Place | None, depth: int) -> str | None:
        """Write what a name stands for, in brackets."""
        on = sheet.removesuffix("!")
        on = on[1:-1].replace("''", "'") if on.startswith("'") else on
        own = on.casefold() or (here[0] if here is not None else "")
        key = own, name.casefold()
        if key not in self._names.names and not on:
            key = "", name.casefold()
        if key not in self._known:
            self._known[key] = None  # one that stands for itself stands for nothing
            text = self._names.names.get(key)
            if text is not None and len(text) <= _LONGEST and depth < _DEEPEST and _stays(text):
                self._known[key] = f"({self._written(text.removeprefix('='), None, depth + 1)})"
        return self._known[key]


def quoted_sheet(sheet: str) -> str:
    """Write the name of a sheet as a formula does.

    Examples
    --------
    >>> quoted_sheet("Round"), quoted_sheet("Box 'A'")
    ('Round', "'Box ''A'''")
    """
    if _SIMPLE.fullmatch(sheet):
        return sheet
    escaped = sheet.replace("'", "''")
    return f"'{escaped}'"


def _stays(text: str) -> bool:
    """Whether a name stands for the same cells wherever it is called: no reference moves with the cell."""
    at = 0
    text = text.removeprefix("=")
    while at < len(text):
        match = TOKEN.match(text, at)
        if match is None:
            at += 1
            continue
        if match["area"] is not None and not (
            match["sheet"] and all(map(_STAYS.fullmatch, match["area"].split(":")))
        ):
            return False
        at = match.end()
    return True

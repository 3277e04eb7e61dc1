"""What formulas of a workbook call by name: its tables, and the names given to cells and constants.

References
----------
ISO/IEC 29500-1, 18.2.5 (``definedName``), 18.5.1.2 and 18.5.1.3 (``table``, ``tableColumn``);
ISO/IEC 29500-2 (Open Packaging Conventions): relationships of parts.
"""

from __future__ import annotations

import posixpath
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from lxml import etree

from audit.intake.formulas import formula_of
from audit.intake.table_references import SheetTable

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

__all__ = ["BookNames", "names_of_book"]

_ESCAPED = re.compile(r"_x([0-9a-fA-F]{4})_")
_YES = ("1", "true")


@dataclass(frozen=True, slots=True)
class BookNames:
    """Names of one workbook.

    Attributes
    ----------
    tables : tuple of SheetTable
        Of all its sheets.
    names : mapping of (sheet, name) to str
        What a name stands for: a formula without its equals sign. Sheet and name in small letters, the sheet
        empty for a name of the whole workbook.
    """

    tables: tuple[SheetTable, ...] = ()
    names: Mapping[tuple[str, str], str] = field(default_factory=dict)

    def __bool__(self) -> bool:
        return bool(self.tables or self.names)


def names_of_book(part: Callable[[str], bytes | None], workbook: str) -> BookNames:
    """Read the names of a workbook file.

    Parameters
    ----------
    part : callable
        Gives the bytes of a part by its name, None where there is no such part.
    workbook : str
        Name of the workbook part.

    Returns
    -------
    BookNames
        Without what is damaged.
    """
    root = _parsed(part(workbook))
    if root is None:
        return BookNames()
    sheets = list(root.iterfind("{*}sheets/{*}sheet"))
    found: list[SheetTable] = []
    ties = {identity: target for identity, _, target in _ties(part, workbook)}
    for sheet in sheets:
        identity = next((str(value) for key, value in sheet.items() if str(key).endswith("}id")), "")
        for _, kind, target in _ties(part, ties.get(identity, "")):
            table = _table(str(sheet.get("name")), part(target)) if kind == "table" else None
            if table is not None:
                found.append(table)
    return BookNames(tuple(found), _defined(root, [str(sheet.get("name")).casefold() for sheet in sheets]))


def _ties(part: Callable[[str], bytes | None], name: str) -> Iterator[tuple[str, str, str]]:
    """Ties of a part: identity, last word of the kind, name of the other part."""
    folder, own = posixpath.split(name)
    root = _parsed(part(posixpath.join(folder, "_rels", f"{own}.rels"))) if own else None
    for tie in root.iterfind("{*}Relationship") if root is not None else ():
        if tie.get("TargetMode") != "External":
            target = posixpath.normpath(posixpath.join("/", folder, str(tie.get("Target")))).lstrip("/")
            yield str(tie.get("Id")), str(tie.get("Type")).rpartition("/")[2], target


def _parsed(part: bytes | None) -> etree._Element | None:
    if part is None:
        return None
    parser = etree.XMLParser(resolve_entities=False, no_network=True, huge_tree=True)
    try:
        return etree.fromstring(part, parser)
    except etree.XMLSyntaxError:
        return None


def _table(sheet: str, part: bytes | None) -> SheetTable | None:
    root = _parsed(part)
    if root is None:
        return None
    areas = formula_of(f"={root.get('ref', '')}").areas
    columns = tuple(
        # a line break in a name is written as _x000a_
        _ESCAPED.sub(lambda found: chr(int(found[1], 16)), str(column.get("name", "")))
        for column in root.iterfind("{*}tableColumns/{*}tableColumn")
    )
    counts = [root.get("headerRowCount", "1"), root.get("totalsRowCount", "0")]
    name = root.get("displayName") or root.get("name") or ""
    if len(areas) != 1 or not all(map(str.isdecimal, counts)):
        return None
    (area,) = areas
    headers, totals = map(int, counts)
    if len(columns) != area.right - area.left + 1 or not name:
        return None
    return SheetTable(name, sheet, area.top, area.left, area.bottom, area.right, columns, headers, totals)


def _defined(root: etree._Element, sheets: Sequence[str]) -> dict[tuple[str, str], str]:
    """Find what names stand for; one of a single sheet tells it by its number among all sheets."""
    found = {}
    for element in root.iterfind("{*}definedNames/{*}definedName"):
        name, number, text = element.get("name", ""), element.get("localSheetId"), element.text or ""
        code = element.get("function") in _YES or element.get("vbProcedure") in _YES
        if code or not name or not text or (number is not None and not number.isdecimal()):
            continue
        if number is None:
            found["", name.casefold()] = text
        elif int(number) < len(sheets):
            found[sheets[int(number)], name.casefold()] = text
    return found

"""The workbook part of a package: its sheets, styles, date system; a sheet added as the last one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from lxml import etree

from audit.handover.book.cell_contents import EPOCH_1900, EPOCH_1904
from audit.handover.book.cell_styles import CellStyles
from audit.handover.book.package import parse, serialise

if TYPE_CHECKING:
    import datetime as dt

    from audit.handover.book.package import Package

__all__ = ["Book"]

_MAIN = "application/vnd.openxmlformats-officedocument.spreadsheetml"
#: Children of the workbook part that stand before ``calcPr`` (ISO/IEC 29500-1, 18.2.27).
_BEFORE_CALCULATION = (
    "fileVersion",
    "fileSharing",
    "workbookPr",
    "workbookProtection",
    "bookViews",
    "sheets",
    "functionGroups",
    "externalReferences",
    "definedNames",
)
_YES = ("1", "true")


class Book:
    """The workbook part, parsed.

    Attributes
    ----------
    space : str
        Namespace of worksheets in this workbook.
    sheets : dict of str to str
        Name of each worksheet -> its part.
    styles : CellStyles
        The style table, to be extended.
    """

    def __init__(self, package: Package) -> None:
        self._package = package
        self._root = parse(package.read(package.workbook))
        self.space = etree.QName(self._root).namespace or ""
        ties = {relation.identity: relation for relation in package.relations(package.workbook)}
        self.sheets: dict[str, str] = {}
        for sheet in self._root.iterfind(f"{self._tag('sheets')}/{self._tag('sheet')}"):
            relation = ties.get(str(sheet.get(f"{{{package.base}}}id")))
            if relation is not None and relation.kind == "worksheet":
                self.sheets[str(sheet.get("name"))] = relation.part
        self._styles_part, self.styles = self._find_styles()

    def _tag(self, name: str) -> str:
        return f"{{{self.space}}}{name}"

    def _find_styles(self) -> tuple[str, CellStyles]:
        package = self._package
        for relation in package.relations(package.workbook):
            if relation.kind == "styles" and relation.part in package:
                return relation.part, CellStyles(package.read(relation.part))
        part = package.new_name("xl/styles", ".xml")
        package.declare(part, f"{_MAIN}.styles+xml")
        package.relate(package.workbook, "styles", part)
        return part, CellStyles(f'<styleSheet xmlns="{self.space}"/>'.encode())

    @property
    def epoch(self) -> dt.datetime:
        """Day from which the workbook counts its dates."""
        settings = self._root.find(self._tag("workbookPr"))
        return EPOCH_1904 if settings is not None and settings.get("date1904") in _YES else EPOCH_1900

    def calculate_on_load(self) -> None:
        """Let programs work out all formulas when they open the workbook."""
        settings = self._root.find(self._tag("calcPr"))
        if settings is None:
            settings = etree.Element(self._tag("calcPr"))
            at = 0
            for child in self._root.iterchildren("{*}*"):
                if etree.QName(child).localname in _BEFORE_CALCULATION:
                    at = self._root.index(child) + 1
            self._root.insert(at, settings)
        settings.set("fullCalcOnLoad", "1")

    def forget_order_of_calculation(self) -> None:
        """Drop the chain of calculation: it names cells without a formula now; programs make it anew."""
        for relation in self._package.relations(self._package.workbook):
            if relation.kind == "calcChain" and relation.part in self._package:
                self._package.remove(relation.part)

    def add_sheet(self, wanted: str, content: bytes) -> None:
        """Add a sheet as the last one, so that nothing that counts sheets is upset."""
        package = self._package
        part = package.new_name("xl/worksheets/sheet", ".xml")
        package.write(part, content)
        package.declare(part, f"{_MAIN}.worksheet+xml")
        identity = package.relate(package.workbook, "worksheet", part)
        sheets = self._root.find(self._tag("sheets"))
        if sheets is None:
            sheets = etree.SubElement(self._root, self._tag("sheets"))
        taken = {str(sheet.get("name")).casefold() for sheet in sheets}
        name, number = wanted, 1
        while name in taken:
            number += 1
            name = f"{wanted} {number}"
        numbers = [int(sheet.get("sheetId", "0")) for sheet in sheets]
        sheet = etree.SubElement(sheets, self._tag("sheet"))
        sheet.set("name", name)
        sheet.set("sheetId", str(max(numbers, default=0) + 1))
        sheet.set(f"{{{package.base}}}id", identity)

    def write(self) -> None:
        """Put the workbook part and the styles back into the package."""
        self._package.write(self._styles_part, self.styles.content())
        self._package.write(self._package.workbook, serialise(self._root))

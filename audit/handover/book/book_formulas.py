"""All formulas of a workbook: those that depend on changed cells get their results of now, or none."""

from __future__ import annotations

import datetime as dt
import re
from typing import TYPE_CHECKING

from lxml import etree

from audit.handover.book.cell_contents import formula_element, put_result, serial
from audit.handover.book.package import parse
from audit.handover.book.sheet_formulas import SheetFormulas
from audit.intake.book_names import names_of_book
from audit.intake.formula_values import NoValueError
from audit.intake.formulas import formula_of
from audit.intake.plain_formulas import PlainFormulas
from audit.intake.recalculation import recalculated

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from lxml.etree import _Element as Element

    from audit.handover.book.package import Package
    from audit.handover.book.sheet_cells import Address, SheetCells
    from audit.intake.formulas import Area, Formula, Place
    from audit.intake.grid import Stored

__all__ = ["BookFormulas", "holds_formulas"]

_FORMULA = re.compile(rb"<(?:\w+:)?f[\s/>]")
_NUMBER = ("", "n")


def holds_formulas(content: bytes) -> bool:
    """Whether a worksheet part holds a formula."""
    return _FORMULA.search(content) is not None


class BookFormulas:
    """Formulas and stored values of a workbook.

    Parameters
    ----------
    package : Package
        Its shared texts are read.
    sheets : mapping of str to SheetCells
        Every worksheet, by name.
    """

    def __init__(self, package: Package, sheets: Mapping[str, SheetCells]) -> None:
        self._package = package
        self._elements = {name.casefold(): dict(cells.every_cell()) for name, cells in sheets.items()}
        self._sheets = sheets
        self.sheets = {name: SheetFormulas(cells) for name, cells in sheets.items()}
        self._texts: list[str] | None = None
        self._plain = PlainFormulas(names_of_book(self._part, package.workbook))

    def _part(self, name: str) -> bytes | None:
        return self._package.read(name) if name in self._package else None

    def work_out(
        self,
        changed: Mapping[tuple[str, Address], Stored],
        settled: Mapping[tuple[str, Address], Stored],
        epoch: dt.datetime,
    ) -> set[str]:
        """Give every formula that depends on a changed cell its result of now, or none.

        Parameters
        ----------
        changed : mapping of (sheet, (row, column)) to stored value
            Cells that hold something else now; they were released in `sheets`, and already hold it.
        settled : mapping of (sheet, (row, column)) to stored value
            Formulas whose results are known: those of the season. None where one has no result.

        Returns
        -------
        set of str
            Sheets in which a result is another one.
        """
        formulas: dict[Place, Formula] = {
            (name.casefold(), *address): formula_of(
                self._plain.plain(text, (name.casefold(), *address), found.filled(address))
            )
            for name, found in self.sheets.items()
            for address, text in found.texts.items()
        }
        places = {
            (name.casefold(), *address): _counted(value, epoch) for (name, address), value in changed.items()
        }
        for name, address in changed:
            self._elements[name.casefold()][address] = self._sheets[name].cell(address)
        known = {
            place: _counted(value, epoch)
            for (name, address), value in settled.items()
            if (place := (name.casefold(), *address)) not in places
        }
        # a cell that a formula had filled may stand alone by now; the season knows its result all the same
        alone = {place: value for place, value in known.items() if place not in formulas}
        results = recalculated(formulas, self, places | alone)
        touched = set()
        for place, result in {**results, **known}.items():
            cell = self._elements.get(place[0], {}).get(place[1:])
            if cell is None:
                continue
            value = _counted(result, epoch)
            if value != self._value(cell) or type(value) is bool:
                put_result(cell, value, epoch)
                touched.add(place[0])
        return {name for name in self.sheets if name.casefold() in touched}

    def at(self, place: Place) -> Stored:
        """Give the stored value of a cell; see `audit.intake.recalculation.Cells`."""
        if place[0] not in self._elements:
            raise NoValueError
        cell = self._elements[place[0]].get(place[1:])
        if cell is None:
            return None
        value = self._value(cell)
        if value is None and formula_element(cell) is not None:
            raise NoValueError
        return value

    def within(self, sheet: str, area: Area) -> Iterator[Place]:
        """Cells of an area that hold something; see `audit.intake.recalculation.Cells`."""
        if sheet not in self._elements:
            raise NoValueError
        for row, column in self._elements[sheet]:
            if area.holds(row, column):
                yield sheet, row, column

    def _value(self, cell: Element) -> Stored:
        kind = cell.get("t", "")
        text = cell.findtext("{*}v")
        if kind == "inlineStr":
            return "".join(str(part.text or "") for part in cell.iterfind("{*}is//{*}t"))
        if text is None or (not text and kind != "str"):
            # some programs write an empty element where a formula was never worked out
            return None
        if kind == "s":
            return self._shared()[int(text)]
        if kind == "b":
            return text == "1"
        if kind in _NUMBER:
            return float(text)
        return text

    def _shared(self) -> list[str]:
        if self._texts is None:
            self._texts = []
            for relation in self._package.relations(self._package.workbook):
                if relation.kind == "sharedStrings" and relation.part in self._package:
                    root = parse(self._package.read(relation.part))
                    self._texts = [_text(item) for item in root.iterchildren("{*}si")]
        return self._texts


def _counted(value: Stored, epoch: dt.datetime) -> Stored:
    """Days and times as the workbook counts them."""
    return serial(value, epoch) if isinstance(value, dt.date | dt.time | dt.timedelta) else value


def _text(item: Element) -> str:
    """Text of a shared string, without the reading aids of other scripts."""
    parts = item.iter("{*}t")
    return "".join(t.text or "" for t in parts if etree.QName(t.getparent()).localname != "rPh")

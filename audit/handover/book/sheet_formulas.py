"""The formulas of one worksheet part, those that several cells share among them.

References
----------
ISO/IEC 29500-1, 18.3.1.40 (``f``): shared formulas, formulas that fill a range, tables of trials.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.handover.book.cell_contents import formula_element
from audit.handover.book.sheet_cells import split_address
from audit.intake.formulas import Area
from audit.intake.moved_formula import moved_formula

if TYPE_CHECKING:
    from lxml.etree import _Element as Element

    from audit.handover.book.sheet_cells import Address, SheetCells

__all__ = ["SheetFormulas"]

_FILLING = ("array", "dataTable")


class SheetFormulas:
    """Formulas by the cells that show their results.

    Attributes
    ----------
    texts : dict of (row, column) to str
        With the equals sign; of a range that one formula fills each cell has it.
    """

    def __init__(self, cells: SheetCells) -> None:
        self.texts: dict[Address, str] = {}
        self._cells: dict[Address, Element] = {}
        self._members: dict[str, list[Address]] = {}
        self._filled: dict[Address, tuple[Address, Address]] = {}
        first: dict[str, tuple[Address, str]] = {}
        for address, cell in cells.every_cell():
            self._cells[address] = cell
            formula = formula_element(cell)
            if formula is None:
                continue
            kind, text = formula.get("t", "normal"), formula.text or ""
            if kind == "shared":
                group = str(formula.get("si"))
                self._members.setdefault(group, []).append(address)
                if text:
                    first[group] = (address, text)
            elif kind in _FILLING:
                self._fill(
                    address, str(formula.get("ref", "")), f"={text}" if kind == "array" else "=TABLE()"
                )
                continue
            self.texts[address] = f"={text}"
        for group, members in self._members.items():
            if group in first:
                start, text = first[group]
                for address in members:
                    if not (formula_element(self._cells[address]).text or ""):  # type: ignore[union-attr] # it has one
                        self.texts[address] = f"={moved_formula(text, *_steps(start, address))}"

    def _fill(self, address: Address, reference: str, text: str) -> None:
        start, _, end = reference.partition(":")
        top, bottom = split_address(start) or address, split_address(end or start) or address
        for row in range(top[0], bottom[0] + 1):
            for column in range(top[1], bottom[1] + 1):
                self._filled[row, column] = (top, bottom)
                self.texts[row, column] = text
        self.texts.setdefault(address, text)

    def filled(self, address: Address) -> Area | None:
        """Give the range that the formula of a cell fills; None where it fills none."""
        if address not in self._filled:
            return None
        top, bottom = self._filled[address]
        return Area("", *top, *bottom)

    def release(self, address: Address) -> str:
        """Make the cell free to be overwritten: no other cell depends on the formula that it holds.

        Returns
        -------
        str
            What else became of cells around it, for a person; mostly empty.
        """
        if address in self._filled:
            return self._release_filled(address)
        self.texts.pop(address, None)
        for members in self._members.values():
            if address not in members:
                continue
            members.remove(address)
            formula = formula_element(self._cells[address])
            if formula is not None and formula.text:
                self._write_out(members)
            break
        return ""

    def _write_out(self, members: list[Address]) -> None:
        """Give every cell that shared a formula its own."""
        for address in members:
            formula = formula_element(self._cells[address])
            if formula is not None and address in self.texts:
                for name in ("t", "si", "ref"):
                    formula.attrib.pop(name, "")
                formula.text = self.texts[address].removeprefix("=")
        members.clear()

    def _release_filled(self, address: Address) -> str:
        top, bottom = self._filled[address]
        for place in [place for place, corners in self._filled.items() if corners == (top, bottom)]:
            del self._filled[place]
            self.texts.pop(place, None)
            cell = self._cells.get(place)
            formula = formula_element(cell) if cell is not None else None
            if cell is not None and formula is not None:
                cell.remove(formula)
                cell.attrib.pop("cm", "")
        if top == bottom:
            return ""
        return (
            "One formula had filled this cell and others; the others keep its results as plain values, "
            "as far as these still hold."
        )


def _steps(start: Address, address: Address) -> tuple[int, int]:
    return address[0] - start[0], address[1] - start[1]

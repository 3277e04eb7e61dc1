"""The formulas of a season: those that depend on cells typed anew are worked out anew, and read again."""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

from audit.intake.beside import MOST_CELLS
from audit.intake.formula_values import NoValueError
from audit.intake.formulas import formula_of
from audit.intake.grid import column_number
from audit.intake.recalculation import recalculated
from audit.intake.typed_in import manner_of, typed_in
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from audit.declarations import Declarations
    from audit.intake.formulas import Area, Formula, Place
    from audit.intake.grid import RawCell, Stored
    from audit.season import Column, Season, Table

__all__ = ["has_formulas", "results_of"]

#: Table, sheet and column.
_Key = tuple[str, str, str]


def has_formulas(season: Season) -> bool:
    """Whether any table of the season holds a formula."""
    return any(
        column.written is not None and column.written.beside is not None
        for table in season.tables.values()
        for column in table.columns.values()
    )


def results_of(season: Season, declared: Declarations) -> dict[_Key, dict[int, RawCell]]:
    """Work out anew what depends on cells that were typed anew since the file was read.

    Returns
    -------
    dict of (table, sheet, column) to dict of int to RawCell
        Each column that holds formulas; cells by their number in the column.
    """
    results: dict[_Key, dict[int, RawCell]] = {}
    for book in _books(season):
        results.update(_results_in(_Grid(season, declared, book)))
    return results


def _books(season: Season) -> set[str]:
    """Files that hold formulas: those of one never depend on the cells of another."""
    return {
        column.written.book
        for table in season.tables.values()
        for column in table.columns.values()
        if column.written is not None and column.written.beside is not None
    }


def _results_in(grid: _Grid) -> dict[_Key, dict[int, RawCell]]:
    changed = grid.changed()
    results: dict[_Key, dict[int, RawCell]] = {line.key: {} for line in grid.lines if line.has_formulas}
    if not changed:
        return results
    for place, value in recalculated(grid.formulas(), grid, changed).items():
        found = grid.find(place)
        if found is None:
            continue
        line, number = found
        stored = line.cells[number]
        results[line.key][number] = replace(stored, value=value, outdated=value is None)
    return results


class _Line(NamedTuple):
    """One column of one sheet."""

    key: _Key
    column: Column
    cells: tuple[RawCell, ...]
    texts: list[str]
    rows: list[int]

    @property
    def has_formulas(self) -> bool:
        return self.column.written is not None and self.column.written.beside is not None


class _Grid:
    """Those cells of a season that stand in one file, as cells of a workbook."""

    def __init__(self, season: Season, declared: Declarations, book: str) -> None:
        self._season = season
        self._declared = declared
        self._beside: dict[Place, RawCell] = {}
        self.lines: list[_Line] = []
        for table in season.tables.values():
            self.lines += self._lines(table, book)
        self._at: dict[tuple[str, int], _Line] = {}
        self._numbers: dict[str, dict[int, int]] = {}
        for line in self.lines:
            sheet = line.key[1].casefold()
            self._at[sheet, column_number(line.column.letter)] = line
            if sheet not in self._numbers:
                self._numbers[sheet] = {row: number for number, row in enumerate(line.rows)}

    def _lines(self, table: Table, book: str) -> Iterator[_Line]:
        places = [split_label(str(label)) for label in table.typed.index]
        inside: dict[str, list[int]] = {}
        for number, (sheet, _) in enumerate(places):
            inside.setdefault(sheet, []).append(number)
        for (sheet, field), column in table.columns.items():
            numbers = inside.get(sheet, [])
            written = column.written
            # a table cut down to some of its rows lacks what its formulas refer to
            if written is None or len(written.cells) != len(numbers) or field not in table.typed.columns:
                continue
            if written.book != book:
                continue
            self._beside.update(written.beside or {})
            texts = table.typed[field].iloc[numbers].to_list()
            rows = [places[number][1] for number in numbers]
            yield _Line((table.name, sheet, field), column, tuple(written.cells), texts, rows)

    def find(self, place: Place) -> tuple[_Line, int] | None:
        """Column and number of a cell of a table."""
        sheet, row, column = place
        line = self._at.get((sheet, column))
        number = self._numbers.get(sheet, {}).get(row)
        return None if line is None or number is None else (line, number)

    def at(self, place: Place) -> Stored:
        found = self.find(place)
        cell = found[0].cells[found[1]] if found is not None else self._beside.get(place)
        if cell is None or (cell.formula and cell.value is None):
            raise NoValueError
        return None if cell.merged else cell.value  # a spreadsheet holds nothing in a covered cell

    def within(self, sheet: str, area: Area) -> Iterator[Place]:
        if (area.bottom - area.top + 1) * (area.right - area.left + 1) > MOST_CELLS:
            raise NoValueError
        for row in range(area.top, area.bottom + 1):
            for column in range(area.left, area.right + 1):
                yield sheet, row, column

    def formulas(self) -> dict[Place, Formula]:
        found = {place: formula_of(cell.in_cells) for place, cell in self._beside.items() if cell.formula}
        for line in self.lines:
            if line.has_formulas:
                sheet, letter = line.key[1].casefold(), column_number(line.column.letter)
                for row, cell in zip(line.rows, line.cells, strict=True):
                    if cell.formula and not cell.merged:
                        found[sheet, row, letter] = formula_of(cell.in_cells)
        return found

    def changed(self) -> dict[Place, Stored]:
        found: dict[Place, Stored] = {}
        for line in self.lines:
            numbers = [
                number
                for number, (cell, text) in enumerate(zip(line.cells, line.texts, strict=True))
                if cell.text != text
            ]
            if numbers:
                found.update(self._typed_anew(line, numbers))
        return found

    def _typed_anew(self, line: _Line, numbers: list[int]) -> Iterator[tuple[Place, Stored]]:
        name, sheet, field = line.key
        declared = next((one for one in self._declared.tables[name].fields if one.name == field), None)
        frame = self._season.tables[name].frame
        manner = manner_of(line.cells, declared.kind if declared is not None else "")
        written = line.column.written
        for number in numbers:
            label = f"{sheet}!{line.rows[number]}"
            value = frame.at[label, field] if field in frame.columns else None
            made = typed_in(
                line.texts[number],
                value,
                self._readings.get((label, field), ""),
                declared,
                manner,
                written.scale if written is not None else 1.0,
            )
            yield (sheet.casefold(), line.rows[number], column_number(line.column.letter)), made

    @cached_property
    def _readings(self) -> Mapping[tuple[str, str], str]:
        return {(one.label, one.field): one.kind for one in self._season.readings}

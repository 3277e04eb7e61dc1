"""What the file stored in the cells of a season."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.intake.grid import RawCell
    from audit.season import Season, Table

__all__ = ["StoredCells", "labels_of"]


def labels_of(table: Table, sheet: str) -> list[str]:
    """Row labels of one sheet of a table, in its order."""
    return [label for label in map(str, table.typed.index) if split_label(label)[0] == sheet]


class StoredCells:
    """Cells of a season as the file stored them."""

    def __init__(self, season: Season) -> None:
        self._season = season
        self._numbers: dict[str, dict[str, int]] = {}

    def column(self, table: Table, sheet: str, field: str) -> Sequence[RawCell]:
        """Cells of one column; empty where they are not known."""
        column = table.columns.get((sheet, field))
        return () if column is None or column.written is None else column.written.cells

    def number(self, label: str) -> int:
        """Count the place of a row among those of its sheet."""
        sheet, _ = split_label(label)
        if sheet not in self._numbers:
            labels = labels_of(self._season.tables[self._season.table_of(label)], sheet)
            self._numbers[sheet] = {one: number for number, one in enumerate(labels)}
        return self._numbers[sheet][label]

    def cell(self, label: str, field: str) -> RawCell | None:
        """Find one cell; None where it is not known."""
        table = self._season.tables[self._season.table_of(label)]
        cells = self.column(table, split_label(label)[0], field)
        number = self.number(label)
        return cells[number] if number < len(cells) else None

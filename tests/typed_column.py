"""Read a column straight from Python values, without any file: for tests of the intake."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pandas as pd

from audit.declarations import load_declarations
from audit.intake.grid import RawCell, stored_text
from audit.intake.values import ColumnRead, read_column

if TYPE_CHECKING:
    from audit.season import Reading

DECLARED = load_declarations()


def column(field: str, *values: Any, table: str = "handlings", **options: Any) -> ColumnRead:
    """Read `values` as one column; a `RawCell` is taken as it is, anything else as stored without a format."""
    cells = [v if isinstance(v, RawCell) else RawCell(v, stored_text(v)) for v in values]
    labels = [f"{table}!{i + 2}" for i in range(len(cells))]
    return read_column(cells, labels, DECLARED.tables[table].field(field), DECLARED, **options)


def plain(read: ColumnRead) -> list[Any]:
    """Return the values with None for missing ones."""
    return [None if pd.isna(value) else value for value in read.values.astype(object)]


def one(field: str, value: Any, *others: Any, **options: Any) -> tuple[Any, str, str]:
    """Value, kind of reading and shown value of the first cell; `others` stand below it."""
    read = column(field, value, *others, **options)
    first = plain(read)[0]
    reading = reading_at(read, 0)
    return first, reading.kind if reading else "", reading.value if reading else ""


def reading_at(read: ColumnRead, row: int) -> Reading | None:
    """Return the reading of a row, counted from 0."""
    label = read.values.index[row]
    return next((reading for reading in read.readings if reading.label == label), None)

"""Read a column straight from Python values, without any file: for tests of the intake."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import pandas as pd

from audit.declarations import load_declarations
from audit.intake.grid import RawCell, stored_text
from audit.intake.values import ColumnRead, read_column

if TYPE_CHECKING:
    from audit.season import Reading

DECLARED = load_declarations()


def column(field: str, *stored: Any, table: str = "handlings", **options: Any) -> ColumnRead:
    """Read one column; a `RawCell` is taken as it is, anything else as stored without a format."""
    cells = [v if isinstance(v, RawCell) else RawCell(v, stored_text(v)) for v in stored]
    labels = [f"{table}!{i + 2}" for i in range(len(cells))]
    return read_column(cells, labels, DECLARED.tables[table].field(field), DECLARED, **options)


def moment(*parts: int) -> dt.datetime:
    """Clock time as sheets keep it."""
    return dt.datetime(*parts)


def values(read: ColumnRead) -> pd.Series:
    """Return the typed values."""
    return read.values  # noqa: PD011 - this is a field of the record, not of a data frame


def plain(read: ColumnRead) -> list[Any]:
    """Return the values with None for missing ones."""
    return [None if pd.isna(value) else value for value in values(read).astype(object)]


def one(field: str, value: Any, *others: Any, **options: Any) -> tuple[Any, str, str]:
    """Value, kind of reading and shown value of the first cell; `others` stand below it."""
    read = column(field, value, *others, **options)
    first = plain(read)[0]
    reading = reading_at(read, 0)
    return first, reading.kind if reading else "", reading.value if reading else ""


def reading_at(read: ColumnRead, row: int) -> Reading | None:
    """Return the reading of a row, counted from 0."""
    label = values(read).index[row]
    return next((reading for reading in read.readings if reading.label == label), None)

"""A season: typed tables, the text as typed, and where each cell stands."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from audit.findings import Cell, RowMarks

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd
    from pandas.api.extensions import ExtensionArray

__all__ = [
    "Column",
    "FileRead",
    "Reading",
    "Season",
    "Table",
    "Written",
    "row_label",
    "split_label",
    "texts_in",
]


@dataclass(frozen=True, slots=True)
class Written:
    """How a column stood in the file, so that it can be read again when one of its cells is typed anew.

    Attributes
    ----------
    cells : sequence
        Cells as stored, of all rows of the sheet that were read, in sheet order; known to the intake only.
    scale : float
        How many of the field's unit one of the column's own units is.
    year : int or None
        Year of the season, for dates without one.
    beside : mapping or None
        Cells outside the table that formulas of the column depend on, by place; None where it holds none.
    results : mapping of int to cell
        Cells with formulas that were worked out anew after others were typed anew, by their number in
        `cells`; they take the place of what the file stored.
    book : str
        File of a column that does not stand in the season's own.
    """

    cells: Sequence[Any]
    scale: float = 1.0
    year: int | None = None
    beside: Mapping[Any, Any] | None = None
    results: Mapping[int, Any] = field(default_factory=dict)
    book: str = ""


@dataclass(frozen=True, slots=True)
class Column:
    """Where a column stands: header as typed, column letter, and what the file stored in it."""

    header: str
    letter: str
    written: Written | None = field(default=None, repr=False, compare=False)


@dataclass(frozen=True, slots=True)
class Reading:
    """How one cell had to be read when it was not plain.

    Attributes
    ----------
    label, field : str
        Row label and canonical column.
    kind : str
        Slug such as ``unreadable`` or ``code_damaged``; the outcomes of the rule ``reading``.
    typed : str
        The text as typed.
    value : str
        What was understood, empty when nothing was.
    remark : str
        One clause for a person, such as ``20.5 cm was read as 205 mm``.
    """

    label: str
    field: str
    kind: str
    typed: str
    value: str
    remark: str


@dataclass(frozen=True, slots=True)
class FileRead:
    """A file that a season was read from, and what it held then.

    Attributes
    ----------
    path : str
        As it was named.
    sha256 : str
        Checksum of its bytes, 64 hexadecimal digits.
    size : int
        Bytes.
    """

    path: str
    sha256: str
    size: int


@dataclass(frozen=True, slots=True)
class Table:
    """One canonical table of a season.

    Attributes
    ----------
    name : str
        Canonical name, such as ``handlings``.
    frame : pandas.DataFrame
        Typed values, canonical columns that were found, index = row labels (``sheet!row``) in sheet order.
    typed : pandas.DataFrame
        The text as typed, same index; canonical columns and the unknown ones under their own headers.
    columns : mapping of (sheet, canonical column) to Column
        Header and letter of each column.
    """

    name: str
    frame: pd.DataFrame
    typed: pd.DataFrame
    columns: Mapping[tuple[str, str], Column]


@dataclass(frozen=True, slots=True)
class Season:
    """All tables of a season. Table access and label-to-cell lookup, nothing else."""

    name: str
    tables: Mapping[str, Table]
    readings: tuple[Reading, ...] = ()
    notices: tuple[str, ...] = ()
    source: str = ""
    files: tuple[FileRead, ...] = field(default=(), compare=False)
    _table_of_sheet: dict[str, str] = field(default_factory=dict, init=False, repr=False, compare=False)
    _arrays: dict[tuple[str, str, str], ExtensionArray | None] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    _marks: dict[str, RowMarks] = field(default_factory=dict, init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Index sheets by table."""
        for name, table in self.tables.items():
            for sheet, _ in table.columns:
                self._table_of_sheet[sheet] = name

    def has(self, table: str, *fields: str) -> bool:
        """Whether the table is there with all the fields."""
        return table in self.tables and all(f in self.tables[table].frame.columns for f in fields)

    def frame(self, table: str) -> pd.DataFrame:
        """Return the typed values of a table, index = row labels."""
        return self.tables[table].frame

    def table_of(self, label: str) -> str:
        """Name of the table that a row stands in; empty where its sheet is none of this season."""
        return self._table_of_sheet.get(label.rpartition("!")[0], "")

    def cell(self, label: str, field: str) -> Cell:
        """Look up the cell at a row label and a canonical column.

        Raises
        ------
        KeyError
            No sheet of this season has such a row.
        """
        sheet, row = split_label(label)
        table = self.tables[self._table_of_sheet[sheet]]
        at = table.typed.index.get_loc(label)
        place = table.columns.get((sheet, field))

        def stands(kind: str, name: str) -> Any:  # noqa: ANN401 - as it is typed
            values = self._array(table, kind, name)
            return None if values is None else values[at]

        def text(name: str) -> str:
            found = stands("typed", name)
            return "" if found is None else str(found)

        return Cell(
            sheet=sheet,
            row=row,
            column=place.header if place else "",
            address=f"{place.letter if place else ''}{row}",
            field=field,
            observed=text(field),
            label=label,
            marks=self._marks.get(label)
            or self._marks.setdefault(
                label, RowMarks(*(_found_by(text(name), stands("frame", name)) for name in _MARKS))
            ),
        )

    def _array(self, table: Table, kind: str, name: str) -> ExtensionArray | None:
        """Return a column of the text as typed, or of what was understood; None where there is none."""
        key = table.name, kind, name
        if key not in self._arrays:
            frame = table.typed if kind == "typed" else table.frame
            self._arrays[key] = frame[name].array if name in frame.columns else None
        return self._arrays[key]


_MARKS = ("box", "date", "ring", "tag")


def _found_by(typed: str, understood: object) -> str:
    """Return what a row is found by: as typed, or as understood where a ditto mark stands for it."""
    if understood is None or any(sign.isdigit() for sign in typed):
        return typed
    if isinstance(understood, dt.datetime):
        # a missing date is a datetime too, and unequal to itself
        return understood.date().isoformat() if understood == understood else typed  # noqa: PLR0124 - see above
    return understood if isinstance(understood, str) else typed


def row_label(sheet: str, row: int) -> str:
    """Label of a row: the index of every frame."""
    return f"{sheet}!{row}"


def split_label(label: str) -> tuple[str, int]:
    """Sheet name and spreadsheet row of a label."""
    sheet, _, row = label.rpartition("!")
    return sheet, int(row)


def texts_in(frame: pd.DataFrame, name: str) -> list[str]:
    """Return the texts of a column, empty where missing, or where there is no such column."""
    if name not in frame.columns:
        return [""] * len(frame)
    return [value if isinstance(value, str) else "" for value in frame[name].tolist()]

"""Cells of a season typed anew, and read as the file would have been."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NoReturn

import pandas as pd

from audit.intake.grid import EMPTY, RawCell
from audit.intake.held_below import edits_below
from audit.intake.season_formulas import has_formulas, results_of
from audit.intake.values import read_column
from audit.intake.wording import listed
from audit.refusal import SeasonRefusal
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from audit.declarations import Declarations
    from audit.intake.values import ColumnRead
    from audit.season import Column, Reading, Season, Table, Written

__all__ = ["Edit", "amend", "amend_all"]

#: Row label, column and the text to be typed there, as in `amend`.
Edit = tuple[str, str, str]


def amend(season: Season, declared: Declarations, label: str, field: str, typed: str) -> Season:
    """Return a season in which one cell holds another text.

    The column is read again with that text in it, in the unit that its header named when the file was read.
    What depends on the column as a whole comes out as if the file had been typed that way: the order of day
    and month, the decimal sign, ditto marks below the cell. In a sheet kept visit by visit the row below
    keeps the day and the box that it was read with, see `audit.intake.held_below`.

    Parameters
    ----------
    season : Season
        Not changed; all but the one column is shared with the new season.
    label, field : str
        Row label, and canonical column or the own header of a column that means none.
    typed : str
        What a person would type into the cell; the text that stood in the file brings back the cell as the
        file stored it.

    Raises
    ------
    SeasonRefusal
        The season has no such row, or its sheet no such column.

    Examples
    --------
    >>> from audit.checking import read_season
    >>> from audit.declarations import load_declarations
    >>> row = {"date": "2026-05-04", "box": "SL-01", "ring": "SV01001", "wing_mm": "205"}
    >>> season = read_season({"handlings": pd.DataFrame([row])})
    >>> again = amend(season, load_declarations(), "handlings!2", "wing_mm", "20.5 cm")
    >>> float(again.frame("handlings").at["handlings!2", "wing_mm"]), again.readings[0].kind
    (205.0, 'unit_converted')
    """
    return amend_all(season, declared, [(label, field, typed)])


def amend_all(season: Season, declared: Declarations, edits: Iterable[Edit]) -> Season:
    """Return a season in which several cells hold other texts; each column is read again only once.

    Formulas that depend on these cells are worked out anew where they are plain arithmetic. Where one is not,
    its stored result does not hold any more, and the cell counts as one without a result.

    Parameters
    ----------
    season : Season
        Not changed; all but the columns of these cells, and of formulas that depend on them, is shared with
        the new season.
    edits : iterable of (label, field, typed)
        Each as in `amend`; the season is that of `amend` with one after the other. Of two for one cell the
        later holds.

    Raises
    ------
    SeasonRefusal
        The season has no such row, or its sheet no such column: of the first edit of which this is so.
    """
    tables = dict(season.tables)
    readings: dict[tuple[str, str], tuple[Reading, ...]] = {}
    wanted = list(edits)
    # what was read with a cell above that is typed anew is written out
    written = [edit for edit, _ in edits_below(season, declared, wanted)]
    for (name, sheet, field), texts in _by_column(season, [*written, *wanted]).items():
        table = tables[name]
        rows = _rows_of(table, sheet)
        column = table.typed[field].iloc[rows].to_list()
        for label, typed in texts.items():
            column[table.typed.index.get_loc(label) - rows.start] = typed
        read = _read_again(declared, table, table.columns[sheet, field], field, column, rows)
        if read is None:
            typed_anew = _with_column(table.typed, field, pd.Series(column, dtype="str"), rows)
            tables[name] = replace(table, typed=typed_anew)
            continue
        tables[name] = replace(
            table,
            frame=_with_column(table.frame, field, read.values, rows),
            typed=_with_column(table.typed, field, read.typed, rows),
        )
        readings[sheet, field] = read.readings
    amended = replace(season, tables=tables, readings=_with_readings(season, readings))
    return _worked_out(amended, declared) if has_formulas(season) else amended


def _worked_out(season: Season, declared: Declarations) -> Season:
    """Read again the columns with formulas whose results are others now."""
    tables = dict(season.tables)
    readings: dict[tuple[str, str], tuple[Reading, ...]] = {}
    for (name, sheet, field), results in results_of(season, declared).items():
        table = tables[name]
        column = table.columns[sheet, field]
        if column.written is None or column.written.results == results:
            continue
        column = replace(column, written=replace(column.written, results=results))
        table = replace(table, columns={**table.columns, (sheet, field): column})
        rows = _rows_of(table, sheet)
        read = _read_again(declared, table, column, field, table.typed[field].iloc[rows].to_list(), rows)
        if read is not None:
            table = replace(table, frame=_with_column(table.frame, field, read.values, rows))
            readings[sheet, field] = read.readings
        tables[name] = table
    return replace(season, tables=tables, readings=_with_readings(season, readings))


def _by_column(season: Season, edits: Iterable[Edit]) -> dict[tuple[str, str, str], dict[str, str]]:
    """Table, sheet and column -> row label -> text: the last one of each cell."""
    columns: dict[tuple[str, str, str], dict[str, str]] = {}
    for label, field, typed in edits:
        table, sheet = _table_of(season, label)
        if (sheet, field) not in table.columns:
            _refuse_column(season, table, sheet, field)
        columns.setdefault((table.name, sheet, field), {})[label] = typed
    return columns


def _read_again(
    declared: Declarations, table: Table, column: Column, name: str, texts: list[str], rows: slice
) -> ColumnRead | None:
    """Read one column of a sheet; None where it is one of the team's own, of which only texts are kept."""
    field = next((one for one in declared.tables[table.name].fields if one.name == name), None)
    if field is None or name not in table.frame.columns:
        return None
    written = column.written
    stored = _stored(written) if written is not None else ()
    if len(stored) != len(texts):
        stored = [EMPTY] * len(texts)
    cells = [
        cell if cell.text == text else RawCell(text, text) if text else EMPTY
        for cell, text in zip(stored, texts, strict=True)
    ]
    return read_column(
        cells,
        table.frame.index[rows].to_list(),
        field,
        declared,
        scale=written.scale if written is not None else 1.0,
        year=written.year if written is not None else None,
    )


def _stored(written: Written) -> Sequence[RawCell]:
    """Cells as stored, formulas with their results of now."""
    if not written.results:
        return written.cells
    return [written.results.get(number, cell) for number, cell in enumerate(written.cells)]


def _table_of(season: Season, label: str) -> tuple[Table, str]:
    for table in season.tables.values():
        if label in table.frame.index:
            return table, split_label(label)[0]
    sheets = listed([f"'{sheet}'" for sheet in _sheets(season)])
    raise SeasonRefusal(
        f"There is no row '{label}' in this season.",
        where=season.source or season.name,
        cure=f"Name a row as sheet!row, of the rows that were read in {sheets}.",
    )


def _refuse_column(season: Season, table: Table, sheet: str, field: str) -> NoReturn:
    names = listed([f"'{name}'" for page, name in table.columns if page == sheet])
    raise SeasonRefusal(
        f"There is no column '{field}' in sheet '{sheet}'.",
        where=season.source or season.name,
        cure=f"Its columns are {names}.",
    )


def _sheets(season: Season) -> list[str]:
    return list(dict.fromkeys(sheet for table in season.tables.values() for sheet, _ in table.columns))


def _rows_of(table: Table, sheet: str) -> slice:
    """Rows of one sheet within its table: sheets stand below each other, each in one piece."""
    if len({page for page, _ in table.columns}) == 1:
        return slice(0, len(table.frame))
    at = [i for i, label in enumerate(table.frame.index) if split_label(label)[0] == sheet]
    return slice(at[0], at[-1] + 1)


def _with_column(frame: pd.DataFrame, field: str, values: pd.Series, rows: slice) -> pd.DataFrame:
    """Return a frame that shares all columns but one."""
    column = frame[field].copy()
    column.iloc[rows] = values.array
    changed = frame.copy(deep=False)
    changed[field] = column
    return changed


def _with_readings(
    season: Season, columns: Mapping[tuple[str, str], tuple[Reading, ...]]
) -> tuple[Reading, ...]:
    """Put the readings of some columns in the place of their former ones, in the order of the file."""
    if not columns:
        return season.readings
    order = [key for table in season.tables.values() for key in table.columns]
    parts: dict[tuple[str, str], list[Reading]] = {key: [] for key in order}
    for reading in season.readings:
        parts.setdefault((split_label(reading.label)[0], reading.field), []).append(reading)
    for place, readings in columns.items():
        parts[place] = list(readings)
    return tuple(reading for part in parts.values() for reading in part)

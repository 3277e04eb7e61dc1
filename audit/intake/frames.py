"""Data frames as sheets, as if each frame had been typed with its column names in row 1."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from audit.intake.grid import EMPTY, RawCell, Sheet, make_sheet, stored_text
from audit.refusal import SeasonRefusal

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.intake.grid import Stored

__all__ = ["sheets_from_frames"]


def sheets_from_frames(frames: Mapping[str, pd.DataFrame]) -> tuple[Sheet, ...]:
    """Turn data frames into sheets: header in row 1, first row of values in row 2; the index is not read.

    Raises
    ------
    SeasonRefusal
        There is no frame, or something is no data frame.
    """
    if not frames:
        raise SeasonRefusal(
            "There is no data frame in this mapping.",
            where="data frames",
            cure="Give at least {'handlings': frame}.",
        )
    sheets = []
    for name, frame in frames.items():
        if not isinstance(frame, pd.DataFrame):
            raise SeasonRefusal(
                f"'{name}' is a {type(frame).__name__}, not a data frame.",
                where="data frames",
                cure="Give a pandas.DataFrame for each table.",
            )
        header = [_text_cell(column) for column in frame.columns]
        columns = [_cells(frame.iloc[:, j]) for j in range(frame.shape[1])]
        rows = [list(row) for row in zip(*columns, strict=True)]
        sheets.append(make_sheet(str(name), [header, *rows]))
    return tuple(sheets)


def _text_cell(column: object) -> RawCell:
    text = " ".join(str(part) for part in column) if isinstance(column, tuple) else str(column)
    return RawCell(text, text) if text else EMPTY


def _cells(column: pd.Series) -> list[RawCell]:
    """Make the cells of a column; a text that is told again and again is one cell."""
    texts: dict[str, RawCell] = {}
    cells = []
    for value in column.to_numpy(dtype=object).tolist():
        if type(value) is str:
            cell = texts.get(value)
            if cell is None:
                cell = texts[value] = RawCell(value, value) if value else EMPTY
        else:
            cell = _cell(value)
        cells.append(cell)
    return cells


def _cell(value: object) -> RawCell:
    stored = _stored(value)
    return EMPTY if stored is None or stored == "" else RawCell(stored, stored_text(stored))


def _stored(value: object) -> Stored:
    """Plain Python value of whatever a frame may hold."""
    if value is None or value is pd.NaT or value is pd.NA:
        return None
    if isinstance(value, pd.Timestamp):
        # A wall clock is meant: the zone says nothing that a field sheet would.
        return value.tz_localize(None).to_pydatetime(warn=False)
    if isinstance(value, (pd.Timedelta, np.timedelta64)):
        return pd.Timedelta(value).to_pytimedelta()
    if isinstance(value, np.datetime64):
        return pd.Timestamp(value).to_pydatetime(warn=False)
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float):
        return None if np.isnan(value) else value
    if isinstance(value, dt.datetime):
        return value.replace(tzinfo=None)
    if isinstance(value, (str, bool, int, dt.date, dt.time, dt.timedelta)):
        return value
    return str(value)

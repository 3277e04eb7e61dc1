"""Rows that a row has to do with: of its day, its box, its bird, its tag, and beside it on the sheet."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Collection

    import pandas as pd
    from numpy.typing import NDArray

    from audit.season import Season

__all__ = ["neighbourhood"]

#: Columns by which rows of all tables have to do with each other, by what is compared.
_TIES: dict[str, tuple[str, ...]] = {
    "day": ("date", "read_at", "detected_at"),
    "box": ("box",),
    "ring": ("ring",),
    "tag": ("tag",),
}


def neighbourhood(seasons: Collection[Season], labels: Collection[str]) -> frozenset[str]:
    """Find the rows on whose explanation some rows may bear.

    Parameters
    ----------
    seasons : collection of Season
        The season before and after an edit: a row has to do with its former box, too.
    labels : collection of str
        Rows that were edited, or of which a rule says something else.

    Returns
    -------
    frozenset of str
        Labels of any table, with `labels` themselves.
    """
    found = set(labels)
    for season in seasons:
        frames = [table.frame for table in season.tables.values()]
        sought: dict[str, set[object]] = {name: set() for name in _TIES}
        for frame in frames:
            rows = np.flatnonzero(frame.index.isin(list(labels)))
            for row in rows:
                found.update(frame.index[max(0, row - 1) : row + 2])
            for name, column in _columns(frame):
                sought[name].update(column[rows])
        for frame in frames:
            for name, column in _columns(frame):
                wanted = {value for value in sought[name] if value == value}  # noqa: PLR0124 - not missing
                if wanted:
                    tied = np.fromiter((value in wanted for value in column), bool, len(column))
                    found.update(frame.index[tied])
    return frozenset(found)


def _columns(frame: pd.DataFrame) -> list[tuple[str, NDArray[np.object_]]]:
    return [
        (name, _plain(frame[field]))
        for name, fields in _TIES.items()
        for field in fields
        if field in frame.columns
    ]


def _plain(column: pd.Series) -> NDArray[np.object_]:
    """Values that can be compared; days as whole numbers, missing ones unequal to themselves."""
    if column.dtype.kind == "M":
        days = column.to_numpy(dtype="datetime64[D]")
        return np.where(np.isnat(days), np.nan, days.astype(np.int64).astype(np.float64))
    return column.to_numpy(dtype=object, na_value=np.nan)

"""Cells of a sheet of repeated measures that could not be used, told one by one or counted."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.review.wording import counted
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.season import Table

__all__ = ["unread"]

#: So many cells of a column are told one by one.
_SHOWN = 5
_FOLLOWS = {
    "date": "was not read as a date: a row without one counts as measured on a day of its own",
    "repeat": "was not read as a whole number: of such rows the upper one counts as measured first",
}


def unread(table: Table, fields: Sequence[str]) -> Iterator[str]:
    """Tell of rows without a bird, and of cells that are no measure, date or number of a repeat.

    Parameters
    ----------
    fields : sequence of str
        The columns that hold measures.
    """
    bare = table.frame["bird"].isna() | (table.frame["bird"] == "")
    if bare.any():
        rows = counted(int(bare.sum()), "row names no bird and tells", "rows name no bird and tell")
        yield f"{rows} nothing."
    for field in (*fields, *_FOLLOWS):
        if field in table.frame.columns:
            yield from _of_column(table, field)


def _of_column(table: Table, field: str) -> Iterator[str]:
    values = table.frame[field]
    lost = values.isna() & (table.typed[field].str.strip() != "")
    told = [
        (label, _FOLLOWS.get(field, "was not read as a number and is left out"))
        for label in values.index[lost]
    ]
    if field not in _FOLLOWS:
        told += [
            (label, "is no measure and is left out")
            for label in values.index[values.le(0).fillna(value=False)]
        ]
    for label, what in told[:_SHOWN]:
        sheet, number = split_label(str(label))
        place = f"{sheet} {table.columns[sheet, field].letter}{number}"
        yield f"{place}: '{table.typed.loc[label, field]}' {what}."
    if len(told) > _SHOWN:
        left = counted(len(told) - _SHOWN, "more cell", "more cells")
        yield f"{left} of the column '{field}' could not be used."

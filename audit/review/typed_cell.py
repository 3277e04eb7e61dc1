"""One cell with another text in it, read as the season reads it, and what may be said against it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from audit.intake.amending import amend
from audit.intake.answer import quoted
from audit.rules.plain import plain_text
from audit.season import split_label

if TYPE_CHECKING:
    from audit.declarations import Declarations
    from audit.declarations.tables import FieldDeclaration
    from audit.findings import Severity
    from audit.season import Reading, Season

__all__ = ["Objection", "TypedCell", "typed_cell"]

#: So many rows above and below a cell are read with it, in columns of these kinds.
_AROUND = 1000
_CUT = ("code", "date")
#: Longest value that a sentence shows in full.
_LONGEST = 40


@dataclass(frozen=True, slots=True)
class Objection:
    """What is to be said about a text before it is taken.

    Attributes
    ----------
    severity : {'error', 'suspect', 'note'}
        It cannot be taken; it can be taken after this was read; this is how it was understood.
    message : str
        One sentence with numbers, units and cure.
    """

    severity: Severity
    message: str


@dataclass(frozen=True, slots=True)
class TypedCell:
    """A cell of a season with the text that is to take its place.

    Attributes
    ----------
    season : Season
        As it was before.
    table, label, field, typed : str
    head : str
        Header as typed.
    declaration : FieldDeclaration or None
        None for a column of which nothing is declared.
    value : object
        What was understood; None where nothing was.
    reading : Reading or None
        How it was understood, where it is not plain.
    """

    season: Season
    declared: Declarations
    table: str
    label: str
    field: str
    typed: str
    head: str
    declaration: FieldDeclaration | None
    value: Any
    reading: Reading | None

    @property
    def text(self) -> str:
        """The value as a person would type it."""
        return plain_text(self.value)

    @property
    def shown(self) -> str:
        """The value, shortened when it is long."""
        text = self.text
        return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 1]}…"

    @property
    def quoted(self) -> str:
        """The text as typed, between quotes and shortened."""
        return quoted(self.typed)

    @property
    def unit(self) -> str:
        """Unit of the column with a blank before it; empty where it has none."""
        return f" {self.declaration.unit}" if self.declaration and self.declaration.unit else ""

    def beside(self, field: str) -> Any:  # noqa: ANN401 - a value of any column
        """Value of another cell of the row, or of the cell itself as it would be; None where missing."""
        if field == self.field:
            return self.value
        frame = self.season.tables[self.table].frame
        if field not in frame.columns:
            return None
        return _known(frame.loc[self.label, field])

    def said(self, field: str) -> str:
        """Write the value of a cell of the row as a person would type it."""
        return plain_text(self.beside(field))


def typed_cell(season: Season, declared: Declarations, label: str, field: str, typed: str) -> TypedCell:
    """Read a text as the season would in that place.

    Raises
    ------
    SeasonRefusal
        The season has no such row, or its sheet no such column.
    """
    table = season.table_of(label)
    near = _around(season, table, label, field, declared)
    after = amend(near, declared, label, field, typed)
    held = after.tables[table]
    column = held.columns[split_label(label)[0], field]
    value = held.frame.loc[label, field] if field in held.frame.columns else typed.strip() or None
    reading = next((one for one in after.readings if (one.label, one.field) == (label, field)), None)
    return TypedCell(
        season,
        declared,
        table,
        label,
        field,
        typed,
        column.header or field,
        next((one for one in declared.tables[table].fields if one.name == field), None),
        _known(value),
        reading,
    )


def _known(value: Any) -> Any:  # noqa: ANN401 - a value of any column
    return None if pd.isna(value) else value


def _around(season: Season, table: str, label: str, field: str, declared: Declarations) -> Season:
    """Cut a long table down to rows near a cell, where its column is one of codes or days.

    Codes are read one by one. How days are written is told by the whole column, so that one row of each
    text is kept.
    """
    held = season.tables.get(table)
    if held is None or len(held.typed) <= 2 * _AROUND or label not in held.typed.index:
        return season
    key = split_label(label)[0], field
    kind = next((one.kind for one in declared.tables[table].fields if one.name == field), "")
    if kind not in _CUT or key not in held.columns or len({sheet for sheet, _ in held.columns}) > 1:
        return season
    at = held.typed.index.tolist().index(label)
    kept = (
        np.zeros(len(held.typed), dtype=bool)
        if kind == "code"
        else ~held.typed[field].duplicated().to_numpy()
    )
    kept[max(0, at - _AROUND) : at + _AROUND] = True
    column = held.columns[key]
    if column.written is not None and len(column.written.cells) == len(kept):
        cells = tuple(column.written.cells[row] for row in np.flatnonzero(kept).tolist())
        column = replace(column, written=replace(column.written, cells=cells, results={}))
    part = replace(
        held, frame=held.frame[kept], typed=held.typed[kept], columns={**held.columns, key: column}
    )
    return replace(season, tables={table: part}, readings=())

"""What each changed cell of a season shall hold, in the manner of its column."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.handover.book.sheet_cells import Address, split_address
from audit.handover.book.stored_cells import StoredCells, labels_of
from audit.intake.grid import EMPTY, RawCell, stored_text
from audit.intake.typed_in import manner_of, typed_in
from audit.intake.values import read_column
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from audit.declarations.tables import FieldDeclaration
    from audit.handover.clean.decided_season import DecidedSeason
    from audit.intake.grid import Stored
    from audit.season import Table

__all__ = ["PutIn", "cells_to_put"]

#: A code kept as a number could be shown with zeros before it.
_BARE = ("", "General", "0")
_MOST_ALIKE = 5


@dataclass(frozen=True, slots=True)
class PutIn:
    """One changed cell.

    Attributes
    ----------
    label, field, text : str
        Row label and column; the text that was decided.
    sheet : str
        Sheet of the season.
    address : (int, int)
        Row and column, from 1.
    value : Stored
        What the cell holds; None where it is emptied.
    like : tuple of (int, int)
        Cells of the column that are stored in the same manner, nearest first: whose number format fits.
    """

    label: str
    field: str
    text: str
    sheet: str
    address: Address
    value: Stored
    like: tuple[Address, ...] = ()


def cells_to_put(decided: DecidedSeason) -> list[PutIn]:
    """Say what every changed cell holds, so that the column reads as it does in the clean season.

    A column whose cells are numbers, days or times gets these. Where it would not read the same, the text is
    put in as it was decided.
    """
    columns: dict[tuple[str, str, str], dict[str, str]] = {}
    for one in (*decided.replayed.applied, *decided.replayed.written_out):
        if one.text != one.typed:
            sheet, _ = split_label(one.label)
            columns.setdefault((decided.typed.table_of(one.label), sheet, one.field), {})[one.label] = (
                one.text
            )
    stored = StoredCells(decided.typed)
    put: list[PutIn] = []
    for (name, sheet, field), texts in columns.items():
        if not decided.typed.tables[name].columns[sheet, field].letter:
            # the box that a sheet is named by stands in no cell
            continue
        put += _column(decided, stored, decided.clean.tables[name], sheet, field, texts)
    return put


def _column(
    decided: DecidedSeason,
    stored: StoredCells,
    table: Table,
    sheet: str,
    field: str,
    texts: Mapping[str, str],
) -> Iterator[PutIn]:
    declared = next((one for one in decided.declared.tables[table.name].fields if one.name == field), None)
    known = field in table.frame.columns
    column = table.columns[sheet, field]
    scale = column.written.scale if column.written is not None else 1.0
    cells = stored.column(table, sheet, field)
    manner = manner_of(cells, declared.kind if declared is not None else "")
    kinds = {one.label: one.kind for one in decided.clean.readings if one.field == field}
    values = {
        label: typed_in(
            text,
            table.frame.at[label, field] if known else None,
            kinds.get(label, ""),
            declared,
            manner,
            scale,
        )
        for label, text in texts.items()
    }
    labels = labels_of(table, sheet)
    if (
        known
        and declared is not None
        and not _reads_the_same(decided, table, sheet, declared, labels, values)
    ):
        values = {label: text or None for label, text in texts.items()}
    letter = split_address(f"{column.letter}1")
    at = {label: number for number, label in enumerate(labels)}
    for label, value in values.items():
        row = split_label(label)[1]
        place = (row, letter[1] if letter else 1)
        yield PutIn(
            label, field, texts[label], sheet, place, value, _like(cells, labels, at[label], value, place[1])
        )


def _reads_the_same(
    decided: DecidedSeason,
    table: Table,
    sheet: str,
    field: FieldDeclaration,
    labels: Sequence[str],
    values: Mapping[str, Stored],
) -> bool:
    """Whether the column, with these values in it, reads as in the clean season."""
    if all(isinstance(value, str | None) for value in values.values()):
        return True
    written = table.columns[sheet, field.name].written
    cells = written.cells if written is not None else ()
    if written is None or len(cells) != len(labels):
        return False
    held = []
    for number, (label, cell) in enumerate(zip(labels, cells, strict=True)):
        if label in values:
            value = values[label]
            if field.kind == "code" and not isinstance(value, str | None) and cell.number_format not in _BARE:
                return False
            held.append(EMPTY if value is None else RawCell(value, stored_text(value)))
        else:
            held.append(written.results.get(number, cell))
    read = read_column(held, labels, field, decided.declared, scale=written.scale, year=written.year)
    clean = table.frame[field.name].loc[list(labels)]
    return bool(((read.values == clean) | (read.values.isna() & clean.isna())).fillna(value=False).all())


def _like(
    cells: Sequence[RawCell], labels: Sequence[str], number: int, value: Stored, column: int
) -> tuple[Address, ...]:
    if value is None or isinstance(value, str) or len(cells) != len(labels):
        return ()
    manner = manner_of([RawCell(value, "")])
    alike = [
        other
        for other, cell in enumerate(cells)
        if other != number and cell.value is not None and manner_of([RawCell(cell.value, "")]) == manner
    ]
    alike.sort(key=lambda other: abs(other - number))
    return tuple((split_label(labels[other])[1], column) for other in alike[:_MOST_ALIKE])

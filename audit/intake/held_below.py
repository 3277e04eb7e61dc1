"""Rows of a sheet kept visit by visit that keep what they held when a cell above them is typed anew."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.intake.carried_down import TypedAnew, by_visits_of, written_out
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Iterable

    from audit.declarations import Declarations
    from audit.intake.carried_down import ByVisits
    from audit.season import Season, Table

    Edit = tuple[str, str, str]

__all__ = ["edits_below"]

_FIELDS = ("date", "box")


def edits_below(
    season: Season, declared: Declarations, edits: Iterable[Edit]
) -> list[tuple[Edit, tuple[str, str]]]:
    """Name the cells that are written out beside those that are typed anew.

    Parameters
    ----------
    season : Season
        As it is before.
    edits : iterable of (label, field, typed)
        Those of which the season has no such cell are passed over.

    Returns
    -------
    list of ((label, field, typed), (label, field))
        A cell with the text that it was read with, and the edited cell that it follows from.
    """
    by_sheet: dict[tuple[str, str], list[Edit]] = {}
    for label, field, typed in edits:
        if field in _FIELDS:
            name = next((name for name, table in season.tables.items() if label in table.frame.index), None)
            if name is not None:
                by_sheet.setdefault((name, split_label(label)[0]), []).append((label, field, typed))
    limits = by_visits_of(declared)
    found: list[tuple[Edit, tuple[str, str]]] = []
    for (name, sheet), some in by_sheet.items():
        found += _of_sheet(season.tables[name], sheet, some, limits)
    return found


def _of_sheet(
    table: Table, sheet: str, edits: Iterable[Edit], limits: ByVisits
) -> list[tuple[Edit, tuple[str, str]]]:
    if any((sheet, field) not in table.columns for field in _FIELDS):
        return []
    labels = [label for label in table.frame.index if split_label(label)[0] == sheet]
    place = {label: row for row, label in enumerate(labels)}
    columns = []
    for field in _FIELDS:
        written = table.columns[sheet, field].written
        if written is None or len(written.cells) != len(labels):
            return []
        typed = {place[label]: text for label, one, text in edits if one == field}
        texts = table.typed[field].loc[labels].to_list()
        columns.append(TypedAnew(written.cells, texts, typed))
    if not any(column.is_carried for column in columns):
        return []
    days, boxes = columns
    return [
        ((labels[row], _FIELDS[not is_day], text), (labels[source[1]], _FIELDS[not source[0]]))
        for is_day, row, text, source in written_out(days, boxes, limits)
    ]

"""Excerpts of sheets: some rows as they stand now, with the cells in question and their witnesses marked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Mapping, Sequence

    import pandas as pd

    from audit.season import Season

__all__ = ["Cells", "Excerpt", "Line", "Marks", "excerpt"]

#: Cells by row label and canonical column.
Cells = frozenset[tuple[str, str]]


@dataclass(frozen=True, slots=True)
class Line:
    """One row of an excerpt.

    Attributes
    ----------
    label : str
        Row label; empty for a line that is no row of the season.
    place : str
        What stands at its head: the spreadsheet row, or file and row of an earlier season.
    texts : tuple of str
        One for each column of the excerpt, as typed.
    """

    label: str
    place: str
    texts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Excerpt:
    """Some rows of one sheet.

    Attributes
    ----------
    title : str
        What these rows are, such as ``Ringing 2026 as typed`` or ``What the hand reader read that day``.
    kind : str
        ``own`` for the sheet of the suspects, else the table that it is of, such as ``tag_reads``.
    fields, heads : tuple of str
        Canonical column and header as typed of each column. A column that stands in no file, such as the
        moment of a read with its clock set right, has a name of its own.
    lines : tuple of Line
        In sheet order, or in time.
    suspects, witnesses : frozenset of (label, field)
        Cells to mark; a cell is never both.
    left_out : int
        Rows that would belong here and are not shown.
    amended : frozenset of (label, field)
        Cells that hold another text than the file; empty where the file was not given.
    """

    title: str
    kind: str
    fields: tuple[str, ...]
    heads: tuple[str, ...]
    lines: tuple[Line, ...]
    suspects: Cells = frozenset()
    witnesses: Cells = frozenset()
    left_out: int = 0
    amended: Cells = frozenset()


@dataclass(frozen=True, slots=True)
class Marks:
    """What to mark in every excerpt of one finding.

    Attributes
    ----------
    suspects, witnesses : frozenset of (label, field)
        A cell is never both.
    as_typed : Season or None
        The season as it stands in the file.
    """

    suspects: Cells
    witnesses: Cells
    as_typed: Season | None = None


def excerpt(
    season: Season,
    table: str,
    rows: Sequence[int],
    marks: Marks,
    *,
    title: str,
    kind: str = "",
    fields: Collection[str] | None = None,
    left_out: int = 0,
    beside: Mapping[str, tuple[str, Callable[[str], str]]] | None = None,
) -> Excerpt:
    """Cut rows out of a table.

    Parameters
    ----------
    season : Season
        As it stands now.
    table : str
        Name of the table.
    rows : sequence of int
        Positions in the table, in the order in which they are to be shown.
    marks : Marks
        Cells to mark.
    title, kind, left_out
        As in `Excerpt`; the kind is the table where none is given.
    fields : collection of str, optional
        Columns to show; all by default. Those that are empty in all rows shown are left out, those with a
        marked cell are always kept.
    beside : mapping of str to (str, callable), optional
        Further columns: name to header and what stands there, by row label.
    """
    held = season.tables[table]
    part = held.typed.iloc[list(rows)]
    labels = [str(label) for label in part.index]
    sheets = {split_label(label)[0] for label in labels}
    suspects, witnesses = (_inside(cells, labels) for cells in (marks.suspects, marks.witnesses))
    marked = {field for _, field in suspects | witnesses}
    columns = {str(field): [_text(value) for value in part[field]] for field in part.columns}
    # a suspect may be a column that the sheet lacks
    columns |= {field: [""] * len(labels) for field in sorted(marked - columns.keys())}
    shown = [
        field
        for field, texts in columns.items()
        if field in marked or (any(texts) and (fields is None or field in fields))
    ]
    extra = beside or {}
    heads = {field: _head(held.columns, sheets, field) for field in shown}
    heads |= {field: head for field, (head, _) in extra.items()}
    texts_of = [columns[field] for field in shown]
    lines = tuple(
        Line(
            label,
            place_of(label, table, alone=len(sheets) == 1),
            (*(texts[i] for texts in texts_of), *(tell(label) for _, tell in extra.values())),
        )
        for i, label in enumerate(labels)
    )
    return Excerpt(
        title,
        kind or table,
        (*shown, *extra),
        tuple(heads.values()),
        lines,
        suspects,
        witnesses,
        left_out,
        _amended(marks.as_typed, table, labels, {field: columns[field] for field in shown}),
    )


def place_of(label: str, table: str, *, alone: bool = True) -> str:
    """Say where a row stands: its number, with the sheet where rows of several stand together."""
    sheet, row = split_label(label)
    return str(row) if alone and table != "earlier" else f"{sheet} {row}"


def _inside(cells: Cells, labels: Iterable[str]) -> Cells:
    shown = set(labels)
    return frozenset(cell for cell in cells if cell[0] in shown)


def _head(columns: Mapping[tuple[str, str], object], sheets: Iterable[str], field: str) -> str:
    for sheet in sorted(sheets):
        header = getattr(columns.get((sheet, field)), "header", "")
        if header:
            return str(header)
    return field


def _text(value: object) -> str:
    return value if isinstance(value, str) else ""


def _amended(
    as_typed: Season | None, table: str, labels: Sequence[str], columns: Mapping[str, Sequence[str]]
) -> Cells:
    if as_typed is None or table not in as_typed.tables:
        return frozenset()
    typed: pd.DataFrame = as_typed.tables[table].typed
    was = typed.reindex(list(labels))
    return frozenset(
        (label, field)
        for field, texts in columns.items()
        if field in was.columns
        for label, text, before in zip(labels, texts, was[field].tolist(), strict=True)
        if text != _text(before)
    )

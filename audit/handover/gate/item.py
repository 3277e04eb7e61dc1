"""One thing that must be settled, or known, before a season is handed over."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.findings import RowMarks
from audit.handover.gate.sorts import SORTS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.findings import Cell
    from audit.handover.gate.sorts import Sort
    from audit.season import Season

__all__ = ["ItemCell", "OpenItem", "by_cell", "cell_at", "in_order"]

_NO_MARKS = RowMarks()


@dataclass(frozen=True, slots=True)
class ItemCell:
    """One cell of an item, as it stands in the clean season.

    Attributes
    ----------
    label, field : str
        Row label and canonical column; the label is empty where the cell has no place in the season.
    where : str
        Sheet and address, such as ``Ringing 2026 F17``.
    column : str
        Header as typed.
    text : str
        What stands there.
    suggested : str
        What was probably meant, in words; empty where nothing can be named.
    p_error : float or None
        Probability that the cell is wrong; None where nobody weighed it.
    said : str
        What was decided about it, such as ``kept by AB``.
    marks : RowMarks
        Box, date, ring and tag of the row.
    """

    label: str
    field: str
    where: str
    column: str = ""
    text: str = ""
    suggested: str = ""
    p_error: float | None = None
    said: str = ""
    marks: RowMarks = _NO_MARKS


_NOWHERE = ItemCell("", "", "")


@dataclass(frozen=True, slots=True)
class OpenItem:
    """One thing that holds the season back, or that a person should know of.

    Attributes
    ----------
    sort : str
        One of `audit.handover.gate.sorts.SORTS`.
    shuts : bool
        Whether it holds the season back.
    says : str
        One sentence.
    cells : tuple of ItemCell
        The cells that it is about, none for what is about the whole season.
    identity : str
        Identity of the finding or decision; slug of a rule; of a breach, column and check.
    rule : str
        Slug of the rule that found it; empty where none did.
    who, why : str
        Who decided, or asked, and the reason given.
    remark : str
        Why it does not shut, or why it does although somebody has decided.
    beside : tuple of str
        What else is said of the same cells.
    """

    sort: Sort
    shuts: bool
    says: str
    cells: tuple[ItemCell, ...] = ()
    identity: str = ""
    rule: str = ""
    who: str = ""
    why: str = ""
    remark: str = ""
    beside: tuple[str, ...] = ()

    @property
    def first(self) -> ItemCell:
        """The first cell; an empty one where there is none."""
        return self.cells[0] if self.cells else _NOWHERE

    @property
    def label(self) -> str:
        """Row label of the first cell."""
        return self.first.label

    @property
    def field(self) -> str:
        """Canonical column of the first cell."""
        return self.first.field

    @property
    def where(self) -> str:
        """Sheet and address of the first cell."""
        return self.first.where

    @property
    def typed(self) -> str:
        """Text of the first cell in the clean season."""
        return self.first.text


def cell_at(season: Season, label: str, field: str, *, said: str = "") -> ItemCell:
    """Describe a cell of a season."""
    cell = season.cell(label, field)
    return ItemCell(
        label, field, _where(cell), cell.column or field, cell.observed, said=said, marks=cell.marks
    )


def _where(cell: Cell) -> str:
    return f"{cell.sheet} {cell.address if cell.column else f'row {cell.row}'}"


def in_order(items: Sequence[OpenItem], season: Season) -> tuple[OpenItem, ...]:
    """Sort: what shuts before what does not, then by sort, then as the cells stand in the sheets."""
    sorts = list(SORTS)
    places: dict[str, tuple[int, int]] = {}
    columns: dict[tuple[str, str], tuple[int, str]] = {}
    for number, table in enumerate(season.tables.values()):
        places.update((str(label), (number, row)) for row, label in enumerate(table.typed.index))
        columns.update((key, (len(column.letter), column.letter)) for key, column in table.columns.items())
    last = (len(season.tables), 0)

    def key(item: OpenItem) -> tuple[object, ...]:
        cell = item.first
        column = columns.get((cell.label.rpartition("!")[0], cell.field), (0, cell.field))
        return (
            not item.shuts,
            sorts.index(item.sort),
            places.get(cell.label, last),
            column,
            cell.where,
            item.identity,
            item.says,
        )

    return tuple(sorted(items, key=key))


def by_cell(items: Sequence[OpenItem]) -> list[list[OpenItem]]:
    """Put together what is about the same first cell; an item without a cell stands alone."""
    groups: dict[tuple[str, str, int], list[OpenItem]] = {}
    for number, item in enumerate(items):
        alone = 0 if item.label else number + 1
        groups.setdefault((item.label, item.field, alone), []).append(item)
    return list(groups.values())

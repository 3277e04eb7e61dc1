"""One thing that must be settled, or known, before a season is handed over."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from audit.findings import RowMarks

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from audit.findings import Cell
    from audit.season import Season

__all__ = ["SORTS", "ItemCell", "OpenItem", "Sort", "SortWords", "by_cell", "cell_at", "in_order"]

Sort = Literal[
    "no_rows",
    "engines",
    "failed",
    "must_run",
    "error",
    "suspect",
    "breach",
    "unread",
    "conflict",
    "orphan",
    "held",
    "question",
    "not_run",
    "answered",
    "damaged",
    "kept",
]


@dataclass(frozen=True, slots=True)
class SortWords:
    """How one sort of item is counted and headed, and what to do about it."""

    one: str
    many: str
    heading: str
    cure: str


#: In the order in which they are told.
SORTS: Mapping[Sort, SortWords] = {
    "no_rows": SortWords(
        "season without a handling",
        "seasons without a handling",
        "Nothing to hand over",
        "Look whether the right file was read, and how its sheets were understood.",
    ),
    "engines": SortWords(
        "fault of an engine",
        "faults of the engines",
        "The two engines do not agree",
        "This is a fault of the program, and no decision mends it. Please report it with the line below.",
    ),
    "failed": SortWords(
        "rule that failed",
        "rules that failed",
        "Rules that failed",
        "This is a fault of the program: what the rule asks was not checked. Please report it.",
    ),
    "must_run": SortWords(
        "rule that must run and did not",
        "rules that must run and did not",
        "Rules that your team asks for and that did not run",
        "Fill the table or column that is named, or take the rule out of must_run in your own gate.yaml.",
    ),
    "error": SortWords(
        "error",
        "errors",
        "Errors",
        "Decide each at the desk: accept what is suggested, amend it, or keep it and say why it is right.",
    ),
    "suspect": SortWords(
        "suspect",
        "suspects",
        "Suspects",
        "Decide each at the desk: accept what is suggested, amend it, or keep it and say why it is right.",
    ),
    "breach": SortWords(
        "broken declaration",
        "broken declarations",
        "Cells that break what is declared",
        "Mend the cells in the sheet or at the desk; where the declaration is wrong, mend it in your folder.",
    ),
    "unread": SortWords(
        "cell that could not be read",
        "cells that could not be read",
        "Cells that could not be read",
        "They would go out empty. Type them anew.",
    ),
    "conflict": SortWords(
        "conflict",
        "conflicts",
        "Cells on which people differ",
        "Neither was applied. Decide the cell once more at the desk.",
    ),
    "orphan": SortWords(
        "decision without a place",
        "decisions without a place",
        "Decisions without a place",
        "The sheet was changed since. Decide the cell again as it stands now, or take the decision back.",
    ),
    "held": SortWords(
        "decision held back",
        "decisions held back",
        "Decisions held back",
        "They take effect when the conflict about another cell of the same decision is settled.",
    ),
    "question": SortWords(
        "open question",
        "open questions",
        "Questions still open",
        "Look them up in the field notebook, and enter the answer at the desk or on the query sheet.",
    ),
    "not_run": SortWords(
        "rule that did not run",
        "rules that did not run",
        "Rules that did not run",
        "What they ask was not checked. A team that cannot do without one names it in gate.yaml.",
    ),
    "answered": SortWords(
        "question answered unawares",
        "questions answered unawares",
        "Questions answered by somebody who did not know of them",
        "The answer stands. Tell the one who asked.",
    ),
    "damaged": SortWords(
        "damaged line of the log",
        "damaged lines of the log",
        "Lines of the log that do not count",
        "What such a line decided was not done: its cells stay as typed and were judged as that.",
    ),
    "kept": SortWords(
        "finding kept against the audit",
        "findings kept against the audit",
        "Kept against the audit",
        "A person says that these cells are right. They go out as they stand.",
    ),
}


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
        One of `SORTS`.
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

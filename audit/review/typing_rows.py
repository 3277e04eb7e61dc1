"""The rows of two typings side by side, table by table."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.row_pairs import Costs, Reach, RowPairs, pair_rows
from audit.review.cell_meanings import Meanings, meanings_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from audit.declarations import Declarations
    from audit.season import Season

__all__ = ["HAND_TYPED", "PairedTable", "paired_tables"]

#: Tables that are typed from field sheets; downloads are not.
HAND_TYPED = ("handlings", "visits", "ring_losses", "ring_stock", "tag_stock", "boxes")


@dataclass(frozen=True, slots=True)
class PairedTable:
    """One table of both typings.

    Attributes
    ----------
    table : str
        Canonical name.
    columns : tuple of Meanings
        Columns that both have.
    only_first, only_second : tuple of str
        Columns that only one of them has.
    first_labels, second_labels : tuple of str
        Row labels, in the order of each typing.
    rows : RowPairs
        By number, from 0.
    """

    table: str
    columns: tuple[Meanings, ...]
    only_first: tuple[str, ...]
    only_second: tuple[str, ...]
    first_labels: tuple[str, ...]
    second_labels: tuple[str, ...]
    rows: RowPairs

    def pairs(self) -> Iterator[tuple[str, str]]:
        """Yield the labels of each pair of rows, in the order of the first typing."""
        for i, j in self.rows.pairs:
            yield self.first_labels[i], self.second_labels[j]

    def twin_first(self, i: int) -> int | None:
        """Return another row of the first typing that means the same in every cell, the nearest one."""
        return _twin([column.first for column in self.columns], i)

    def twin_second(self, j: int) -> int | None:
        """Return the same for the second typing."""
        return _twin([column.second for column in self.columns], j)


def paired_tables(first: Season, second: Season, declared: Declarations) -> tuple[PairedTable, ...]:
    """Pair the rows of every table that both typings have and that is typed by hand."""
    found = []
    for table in HAND_TYPED:
        if not (first.has(table) and second.has(table)):
            continue
        columns = meanings_of(first, second, table, declared)
        one, other = ([str(name) for name in s.tables[table].typed.columns] for s in (first, second))
        codes = [_numbered(column) for column in columns]
        rows = pair_rows(
            [a for a, _ in codes], [b for _, b in codes], _costs(columns, declared), _reach(declared)
        )
        found.append(
            PairedTable(
                table,
                columns,
                tuple(name for name in one if name not in other),
                tuple(name for name in other if name not in one),
                tuple(str(label) for label in first.frame(table).index),
                tuple(str(label) for label in second.frame(table).index),
                rows,
            )
        )
    return tuple(found)


def _numbered(column: Meanings) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    number: dict[str, int] = {"": 0}
    codes = [
        np.array([number.setdefault(text, len(number)) for text in texts], dtype=np.int64)
        for texts in (column.first, column.second)
    ]
    return codes[0], codes[1]


def _costs(columns: Sequence[Meanings], declared: Declarations) -> Costs:
    def limit(name: str) -> float:
        return float(declared.settings[f"double_entry.pair.{name}"].value)

    return Costs(
        slips=[limit("remark_differs" if column.free else "slip") for column in columns],
        emptied=limit("emptied"),
        missing=limit("missing_row"),
        in_order=limit("in_order_least"),
        moved=limit("moved_least"),
        most=limit("agreement_most"),
    )


def _reach(declared: Declarations) -> Reach:
    def limit(name: str) -> int:
        return int(declared.settings[f"double_entry.pair.{name}"].value)

    return Reach(
        telling=limit("telling_columns"),
        near=limit("near_rows"),
        turned=float(declared.settings["double_entry.pair.turned_share"].value),
        band=limit("band_rows"),
        left_over=limit("left_over_most"),
    )


def _twin(columns: Sequence[Sequence[str]], i: int) -> int | None:
    row = [column[i] for column in columns]
    twins = [
        k
        for k, same in enumerate(columns[0])
        if k != i
        and same == row[0]
        and all(c[k] == text for c, text in zip(columns[1:], row[1:], strict=True))
    ]
    return min(twins, key=lambda k: abs(k - i), default=None)

"""What differs in a season once some cells were typed anew."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.intake.amending import Edit
    from audit.season import Season

    Columns = frozenset[tuple[str, str]]

__all__ = ["changed_cells"]


def changed_cells(before: Season, after: Season, edits: Sequence[Edit]) -> tuple[Columns, frozenset[str]]:
    """Name the columns and the rows with another text or value: ditto marks and formulas follow.

    Parameters
    ----------
    before, after : Season
        The same season before and after some cells were typed anew.
    edits : sequence of (label, field, typed)
        As in `audit.intake.amending.amend_all`.

    Returns
    -------
    frozenset of (table, column)
        Columns in which something differs.
    frozenset of str
        Labels of the rows.
    """
    columns: set[tuple[str, str]] = set()
    rows: set[str] = set()
    for name, field in {(after.table_of(label), field) for label, field, _ in edits} | _worked_out(
        before, after
    ):
        one, other = before.tables[name], after.tables[name]
        differs = one.typed[field].to_numpy(dtype=object) != other.typed[field].to_numpy(dtype=object)
        if field in other.frame.columns:
            was, now = one.frame[field], other.frame[field]
            differs |= ~((was == now).fillna(value=False) | (was.isna() & now.isna())).to_numpy(dtype=bool)
        if differs.any():
            columns.add((name, field))
            rows.update(other.frame.index[differs])
    return frozenset(columns), frozenset(rows)


def _worked_out(before: Season, after: Season) -> Columns:
    """Columns with formulas that were worked out anew."""
    return frozenset(
        (name, field)
        for name, table in after.tables.items()
        if table.columns is not before.tables[name].columns
        for (sheet, field), column in table.columns.items()
        if column is not before.tables[name].columns[sheet, field]
    )

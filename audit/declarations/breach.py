"""A breach: a cell that does not keep to the declaration of its column, whichever engine found it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    import pandas as pd

    from audit.declarations.tables import TableDeclaration

__all__ = ["CHECKS", "Breach", "Check", "in_sheet_order", "references_in"]

Check = Literal["needed", "required", "unique", "minimum", "maximum", "pattern", "enum", "foreign_key"]

#: Everything that may be declared of a column. ``needed`` is about the whole table.
CHECKS: tuple[Check, ...] = (
    "needed",
    "required",
    "unique",
    "minimum",
    "maximum",
    "pattern",
    "enum",
    "foreign_key",
)


@dataclass(frozen=True, slots=True)
class Breach:
    """One cell and one declared check that it breaks.

    Attributes
    ----------
    label, field : str
        Row label and canonical column. The label is empty where a needed column is absent altogether.
    check : str
        One of `CHECKS`.
    """

    label: str
    field: str
    check: Check


def in_sheet_order(
    breaches: Iterable[Breach], declaration: TableDeclaration, frame: pd.DataFrame
) -> list[Breach]:
    """Sort by row of the frame, declared column and check, and drop repeats; engines give no such order."""
    row = {label: position for position, label in enumerate(frame.index)}
    column = {name: position for position, name in enumerate(declaration.names)}
    return sorted(
        set(breaches),
        key=lambda breach: (row.get(breach.label, -1), column[breach.field], CHECKS.index(breach.check)),
    )


def references_in(
    frames: Mapping[str, pd.DataFrame], tables: Mapping[str, TableDeclaration]
) -> dict[tuple[str, str], frozenset[object]]:
    """Collect the values that foreign keys may point to.

    Parameters
    ----------
    frames : mapping of str to pandas.DataFrame
        Typed tables of a season by name.
    tables : mapping of str to TableDeclaration
        Declared tables by name.

    Returns
    -------
    dict of (table, column) to frozenset
        Only for tables and columns that are there: a foreign key to an absent table is not checked.
    """
    wanted = {(key.table, key.column) for declaration in tables.values() for key in declaration.foreign_keys}
    return {
        (table, column): frozenset(frames[table][column].dropna())
        for table, column in sorted(wanted)
        if table in frames and column in frames[table].columns
    }

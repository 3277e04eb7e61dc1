"""What a declaration expects of a column, and of a cell that breaks it, in plain words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.review.wording import some_of
from audit.rules.plain import plain_text

if TYPE_CHECKING:
    from audit.declarations.breach import Check
    from audit.declarations.tables import TableDeclaration

__all__ = ["broken", "expected"]

#: Allowed words that are named; of more the first are.
_NAMED = 12


def expected(table: TableDeclaration, field: str, check: Check) -> str:
    """Say what is expected of a column: ``at least 0 g``.

    Parameters
    ----------
    table : TableDeclaration
        The table that the column stands in.
    field, check : str
        Canonical column; one of `audit.declarations.breach.CHECKS`.
    """
    declared = table.field(field)
    unit = f" {declared.unit}" if declared.unit else ""
    if check == "minimum":
        return f"at least {plain_text(declared.minimum)}{unit}"
    if check == "maximum":
        return f"at most {plain_text(declared.maximum)}{unit}"
    if check == "pattern":
        return f"of the form {declared.pattern}"
    if check == "enum":
        return f"one of {some_of([plain_text(value) for value in declared.allowed_values], _NAMED)}"
    if check == "foreign_key":
        key = next(one for one in table.foreign_keys if one.field == field)
        return f"one that stands in the column '{key.column}' of the table {key.table}"
    return {
        "needed": "the column is there",
        "required": "no cell is empty",
        "unique": "no value stands twice",
    }[check]


def broken(table: TableDeclaration, field: str, check: Check, column: str, text: str, cells: int) -> str:
    """Say in one sentence what is wrong with some cells of one column that hold the same.

    Parameters
    ----------
    column, text : str
        Header as typed, and what stands in the cells.
    cells : int
        How many there are.
    """
    many = f" in {cells:,} cells" if cells > 1 else ""
    if check == "needed":
        return f"The table {table.name} has no column '{field}', and cannot do without."
    if check == "required":
        return f"The column '{column}' may not be empty{', but is so' if many else ''}{many}."
    if check == "unique":
        return f"The column '{column}' may say '{text}' once, but says so{many}."
    if check == "foreign_key":
        key = next(one for one in table.foreign_keys if one.field == field)
        there = f"the column '{key.column}' of the table {key.table}"
        return f"The column '{column}' says '{text}'{many}, which does not stand in {there}."
    return f"The column '{column}' says '{text}'{many}; expected is {expected(table, field, check)}."

"""Declared tables looked at column by column: the same question as that of the engines, without loading one.

The audit asks this, since an engine takes longer to load than a season to be checked. The gate asks two engines,
and ``tests/parity`` holds that all three blame the same cells.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from audit.declarations.breach import Breach, in_sheet_order
from audit.declarations.tables import DTYPES

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping

    import pandas as pd

    from audit.declarations.breach import Check
    from audit.declarations.tables import FieldDeclaration, TableDeclaration

__all__ = ["blame"]


def blame(
    declaration: TableDeclaration,
    frame: pd.DataFrame,
    references: Mapping[tuple[str, str], Collection[object]] | None = None,
) -> list[Breach]:
    """Find every cell of a typed table that breaks its declaration.

    Parameters
    ----------
    declaration, frame, references
        As in `audit.declarations.to_pandera.blame`.

    Returns
    -------
    list of Breach
        In sheet order.

    Raises
    ------
    TypeError
        A column is not typed as declared: a fault of the reader, not of the sheet.
    """
    known = references or {}
    may_point_to = {
        key.field: known[key.table, key.column]
        for key in declaration.foreign_keys
        if (key.table, key.column) in known
    }
    found: list[Breach] = []
    for field in declaration.fields:
        if field.name not in frame.columns:
            if field.needed:
                found.append(Breach("", field.name, "needed"))
            continue
        values = frame[field.name]
        if str(values.dtype) != DTYPES[field.kind]:
            raise TypeError(f"{field.name}: {values.dtype}; the column is not typed as declared")
        filled = values.dropna()
        if field.required and len(filled) < len(values):
            found += [Breach(str(label), field.name, "required") for label in values.index[values.isna()]]
        for check, broken in _broken(field, filled, may_point_to.get(field.name)):
            if broken.any():
                labels = filled.index[broken.to_numpy(dtype=bool)]
                found += [Breach(str(label), field.name, check) for label in labels]
    return in_sheet_order(found, declaration, frame) if found else []


def _broken(
    field: FieldDeclaration, filled: pd.Series, may_point_to: Collection[object] | None
) -> Iterator[tuple[Check, pd.Series]]:
    """Yield each declared check, and which cells break it; of an empty cell only ``required`` speaks."""
    if field.unique:
        yield "unique", filled.duplicated(keep=False)
    if field.minimum is not None:
        yield "minimum", filled < field.minimum
    if field.maximum is not None:
        yield "maximum", filled > field.maximum
    if field.pattern is not None:
        whole = re.compile(field.pattern)
        yield "pattern", ~filled.isin([value for value in filled.unique() if whole.fullmatch(value)])
    if field.allowed is not None:
        yield "enum", ~filled.isin(field.allowed_values)
    if may_point_to is not None:
        yield "foreign_key", ~filled.isin(list(may_point_to))

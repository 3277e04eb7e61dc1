"""Cells of one column become typed values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

    from audit.declarations import Declarations
    from audit.declarations.tables import FieldDeclaration
    from audit.intake.grid import RawCell
    from audit.season import Reading

__all__ = ["ColumnRead", "read_column"]


@dataclass(frozen=True, slots=True)
class ColumnRead:
    """A typed column, the text as typed, and how its unusual cells were read."""

    values: pd.Series
    typed: pd.Series
    readings: tuple[Reading, ...]


def read_column(
    cells: Sequence[RawCell], labels: Sequence[str], field: FieldDeclaration, declared: Declarations
) -> ColumnRead:
    """Read one column."""
    raise NotImplementedError

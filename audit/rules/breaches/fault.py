"""The cells of one column that break one declared check."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.season import split_label

if TYPE_CHECKING:
    import pandas as pd

    from audit.declarations.tables import FieldDeclaration, TableDeclaration
    from audit.rules.case import Case

__all__ = ["Fault"]


@dataclass(frozen=True, slots=True)
class Fault:
    """The cells of one column that break one declared check, in sheet order."""

    table: TableDeclaration
    field: FieldDeclaration
    check: str
    labels: tuple[str, ...]

    def column(self, case: Case) -> pd.Series:
        """Typed values of the column, index = row labels."""
        return case.frame(self.table.name)[self.field.name]

    def others(self, case: Case) -> pd.Series:
        """Values of the same column that keep to this check."""
        return self.column(case).drop(list(self.labels)).dropna()

    def header(self, case: Case, label: str) -> str:
        """Header as typed, which may differ from sheet to sheet."""
        place = case.season.tables[self.table.name].columns.get((split_label(label)[0], self.field.name))
        return place.header if place and place.header else self.field.name

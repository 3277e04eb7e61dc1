"""What the second engine answered about one table: each expectation, and the cells that broke it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.declarations.breach import Breach, Check

__all__ = ["Judged", "Validation"]


@dataclass(frozen=True, slots=True)
class Judged:
    """One expectation, and whether the table holds it.

    Attributes
    ----------
    field : str
        Canonical column.
    check : str
        One of `audit.declarations.breach.CHECKS`.
    holds : bool
        Whether no cell breaks it.
    cells, empty, broken : int
        Cells of the column; those that hold no value, of which only ``required`` speaks; those that break it.
        All 0 for ``needed``, which is about the column as a whole.
    """

    field: str
    check: Check
    holds: bool
    cells: int = 0
    empty: int = 0
    broken: int = 0

    @property
    def looked_at(self) -> int:
        """Cells that this expectation speaks of."""
        return self.cells if self.check == "required" else self.cells - self.empty


@dataclass(frozen=True, slots=True)
class Validation:
    """Every expectation of one table.

    Attributes
    ----------
    table : str
        Canonical table.
    rows : int
        Rows of the table.
    judged : tuple of Judged
        By declared column, then in the order of the checks.
    breaches : tuple of Breach
        Cells that break an expectation, in sheet order.
    document : mapping
        The engine's own results, plain values for JSON, without run times, identities and excerpts of lists
        that stand there whole: for the same table the same each time.
    engine : str
        Name and version of the engine.
    """

    table: str
    rows: int
    judged: tuple[Judged, ...]
    breaches: tuple[Breach, ...]
    document: Mapping[str, Any] = field(repr=False)
    engine: str = ""

    @property
    def holds(self) -> bool:
        """Whether the table keeps to all that is declared of it."""
        return all(one.holds for one in self.judged)

"""The key to planted slips: which cells were changed, and what stood there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from audit.season import Reading

__all__ = ["Change", "Key", "Slip"]


@dataclass(frozen=True, slots=True)
class Change:
    """One cell that a slip has changed.

    Attributes
    ----------
    label, field : str
        Row label and canonical column.
    meant : str
        The true value as plain text, as a suggestion would name it.
    typed : str
        The text that now stands in the cell.
    stood : str
        The text that stood there before.
    readings : tuple of Reading
        How the cell had been read before, where it was not plain.
    """

    label: str
    field: str
    meant: str
    typed: str
    stood: str
    readings: tuple[Reading, ...] = ()

    @property
    def place(self) -> tuple[str, str]:
        """Row label and column."""
        return self.label, self.field


@dataclass(frozen=True, slots=True)
class Slip:
    """One planted slip.

    Attributes
    ----------
    kind, field : str
        What was done and to which column; together the name, such as ``net_g.not_subtracted``.
    changes : tuple of Change
        Every cell that it changed, the one that it is named after first.
    size : float or None
        For numbers: typed less true, in the unit of the column. For dates: days.
    relative : float or None
        For numbers: `size` as a share of the true value.
    """

    kind: str
    field: str
    changes: tuple[Change, ...]
    size: float | None = None
    relative: float | None = None

    @property
    def name(self) -> str:
        """Column and kind: ``tag.neighbours``."""
        return f"{self.field}.{self.kind}"

    @property
    def labels(self) -> tuple[str, ...]:
        """Labels of the rows that it changed, each once."""
        return tuple(dict.fromkeys(change.label for change in self.changes))


@dataclass(frozen=True, slots=True)
class Key:
    """Every slip that was planted, and what could not be.

    Attributes
    ----------
    slips : tuple of Slip
        In the order of planting.
    short : mapping of str to int
        How many slips of a name were asked for and found no place.
    """

    slips: tuple[Slip, ...]
    short: Mapping[str, int]

    def __iter__(self) -> Iterator[Slip]:
        return iter(self.slips)

    def __len__(self) -> int:
        return len(self.slips)

    @property
    def changes(self) -> dict[tuple[str, str], Change]:
        """Every changed cell by (row label, column)."""
        return {change.place: change for slip in self.slips for change in slip.changes}

    @property
    def labels(self) -> frozenset[str]:
        """Labels of all rows that hold a changed cell."""
        return frozenset(change.label for slip in self.slips for change in slip.changes)

"""What an empty season holds: its sheets, their columns, and what is typed into each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.declarations import Declarations
    from audit.declarations.tables import FieldDeclaration

__all__ = ["BlankColumn", "BlankSheet", "blank_sheets"]

#: Tables that are typed; logs of antennas and earlier seasons come in files of their own.
_TYPED = ("handlings", "visits", "boxes", "ring_stock", "ring_losses", "tag_stock", "tag_reads")
#: Words for units that are longer in the name of a column than beside a figure.
_UNITS = {"d": "days"}


@dataclass(frozen=True, slots=True)
class BlankColumn:
    """A column: its heading, what it holds, the values it takes where there are few, and its kind."""

    heading: str
    says: str
    values: tuple[str, ...]
    kind: str
    needed: bool

    @property
    def told(self) -> str:
        """All that is to be known of it, in a line."""
        values = f" One of: {', '.join(self.values)}." if self.values else ""
        return f"{self.says}{values}{' Needed.' if self.needed else ''}"


@dataclass(frozen=True, slots=True)
class BlankSheet:
    """A sheet: its name, what one row of it is, and its columns."""

    name: str
    row: str
    columns: tuple[BlankColumn, ...]


def blank_sheets(declared: Declarations) -> list[BlankSheet]:
    """Lay out the sheets of a season that is typed by hand, the birds first.

    Parameters
    ----------
    declared : Declarations
        Their tables say which columns there are and what stands in them.
    """
    return [
        BlankSheet(_words(name), declared.tables[name].title, tuple(_columns(declared.tables[name].fields)))
        for name in _TYPED
        if name in declared.tables
    ]


def _columns(fields: tuple[FieldDeclaration, ...]) -> Iterator[BlankColumn]:
    for field in fields:
        values = ("yes", "no") if field.kind == "boolean" else field.allowed or ()
        yield BlankColumn(_heading(field), field.title, values, field.kind, field.needed)


def _heading(field: FieldDeclaration) -> str:
    """Name a column by its field, with the unit in brackets where the name ends with it."""
    unit = _UNITS.get(field.unit, field.unit)
    stem = field.name.removesuffix(f"_{unit}")
    return _words(field.name) if not unit or stem == field.name else f"{_words(stem)} ({unit})"


def _words(name: str) -> str:
    return name.replace("_", " ").capitalize()

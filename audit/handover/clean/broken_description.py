"""Cells of the tidy tables that break their own description."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.declarations.breach import references_in
from audit.declarations.to_pandera import blame
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.declarations import Declarations
    from audit.season import Table

__all__ = ["broken_description"]


def broken_description(tables: Mapping[str, Table], declared: Declarations) -> str:
    """Say how many cells do not keep to what the description asks of their columns; empty where all do.

    Such cells go out where a person kept them, or took a shut gate on.
    """
    frames = {name: table.frame for name, table in tables.items()}
    references = references_in(frames, declared.tables)
    places: dict[tuple[str, str], None] = {}
    for name, frame in frames.items():
        try:
            broken = blame(declared.tables[name], frame, references)
        except TypeError:
            # a column that is not of its declared type: told at the gate, as no decision mends it
            continue
        places.update(dict.fromkeys((one.label, one.field) for one in broken if one.label))
    if not places:
        return ""
    label, field = next(iter(places))
    first = f"'{field}' of {label}"
    return (
        f"{counted(len(places), 'cell breaks', 'cells break')} the description of the tables "
        f"({first if len(places) == 1 else f'the first is {first}'}): programs that check them will say so."
    )

"""The declared tables held against the clean season by both engines, each without knowing of the other."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.declarations import to_gx, to_pandera
from audit.declarations.breach import references_in
from audit.handover.gate.item import OpenItem, cell_at

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.declarations import Declarations
    from audit.declarations.breach import Breach
    from audit.declarations.tables import TableDeclaration
    from audit.declarations.validation import Validation
    from audit.season import Season

__all__ = ["Engines", "ask_both"]


@dataclass(frozen=True, slots=True)
class Engines:
    """What both engines say.

    Attributes
    ----------
    validations : tuple of Validation
        Answers of the second engine, great-expectations, by table.
    faults : tuple of OpenItem
        Cells that one engine blames and the other does not, and tables that an engine could not check.
    looked_up : frozenset of (str, str)
        Table and column that were looked up for other tables.
    """

    validations: tuple[Validation, ...]
    faults: tuple[OpenItem, ...]
    looked_up: frozenset[tuple[str, str]]


def ask_both(season: Season, declared: Declarations) -> Engines:
    """Run both engines over the typed tables of a season.

    Raises
    ------
    audit.refusal.Refusal
        great-expectations is not installed.
    """
    context = to_gx.quiet_context()
    frames = {name: table.frame for name, table in season.tables.items()}
    references = references_in(frames, declared.tables)
    validations: list[Validation] = []
    faults: list[OpenItem] = []
    for name, frame in frames.items():
        table = declared.tables[name]
        try:
            validation = to_gx.validate(table, frame, references, context)
            ours = to_pandera.blame(table, frame, references)
        except TypeError as fault:
            # a column that the reader did not type as declared: no decision of a person can mend that
            says = f"The table {name} could not be checked: {fault}."
            faults.append(OpenItem("engines", shuts=True, says=says, identity=name))
            continue
        validations.append(validation)
        faults += _differing(season, table, ours, list(validation.breaches))
    return Engines(tuple(validations), tuple(faults), frozenset(references))


def _differing(
    season: Season, table: TableDeclaration, ours: list[Breach], theirs: list[Breach]
) -> Iterator[OpenItem]:
    """Name every breach that only one of the engines finds, in sheet order."""
    for found, other, only in (
        (theirs, set(ours), "great-expectations, the second engine, and not by pandera, the first"),
        (ours, set(theirs), "pandera, the first engine, and not by great-expectations, the second"),
    ):
        for one in found:
            if one in other:
                continue
            yield OpenItem(
                sort="engines",
                shuts=True,
                says=f"The check '{one.check}' of the column '{one.field}' is broken by the word of {only}.",
                cells=(cell_at(season, one.label, one.field),) if one.label else (),
                identity=f"{table.name}.{one.field}.{one.check}",
            )

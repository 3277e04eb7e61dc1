"""The gate: whether a season may be handed over, and what is in its way."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.handover.gate.broken_cells import Unseen, breach_items, unread_items, unseen_in
from audit.handover.gate.engines import ask_both
from audit.handover.gate.found import found_items, waiting_for
from audit.handover.gate.item import OpenItem, in_order
from audit.handover.gate.left import log_items, rule_items
from audit.handover.gate.said import said_in
from audit.handover.gate.sorts import SORTS, Sort

if TYPE_CHECKING:
    from audit.declarations.validation import Validation
    from audit.handover.clean.decided_season import DecidedSeason

__all__ = ["Gate", "ask_gate"]


_NONE_UNSEEN = Unseen()


@dataclass(frozen=True, slots=True, repr=False)
class Gate:
    """Whether a season may be handed over.

    Attributes
    ----------
    season : str
        Name of the season.
    items : tuple of OpenItem
        What shuts the gate, then what a person should know of; each by sort, and as it stands in the sheets.
    validations : tuple of Validation
        Answers of the second engine, by table.
    unseen : Unseen
        Cells that no engine can see.
    rows : int
        Handlings of the season.
    notes : int
        Notes of the audit: worth knowing, and nothing to decide.
    not_looked_up : tuple of (str, str)
        Column of a table, as ``handlings.box``, and the table that is not there to look it up in.
    """

    season: str
    items: tuple[OpenItem, ...]
    validations: tuple[Validation, ...] = ()
    unseen: Unseen = _NONE_UNSEEN
    rows: int = 0
    notes: int = 0
    not_looked_up: tuple[tuple[str, str], ...] = ()

    @property
    def is_open(self) -> bool:
        """Whether nothing holds the season back."""
        return not self.shutting

    @property
    def shutting(self) -> tuple[OpenItem, ...]:
        """What holds the season back."""
        return tuple(item for item in self.items if item.shuts)

    @property
    def listed(self) -> tuple[OpenItem, ...]:
        """What a person should know of, and what holds nothing back."""
        return tuple(item for item in self.items if not item.shuts)

    def of_sort(self, *sorts: Sort) -> tuple[OpenItem, ...]:
        """Items of some sorts."""
        return tuple(item for item in self.items if item.sort in sorts)

    def counts(self, *, shutting: bool = True) -> dict[Sort, int]:
        """Count items by sort, in the order of the sorts; only those that shut, or only the others."""
        number = Counter(item.sort for item in self.items if item.shuts == shutting)
        return {sort: number[sort] for sort in SORTS if number[sort]}

    @property
    def verdict(self) -> str:
        """Whether the gate is open, in one sentence without the items."""
        from audit.handover.gate.wording import headline

        return headline(self)

    def __repr__(self) -> str:
        from audit.handover.gate.text import gate_text

        return gate_text(self)

    def _repr_html_(self) -> str:
        from audit.handover.gate.page import gate_piece

        return gate_piece(self)


def ask_gate(decided: DecidedSeason) -> Gate:
    """Ask whether a season may be handed over.

    Parameters
    ----------
    decided : DecidedSeason
        The season with all that was decided, and the audit of it.

    Returns
    -------
    Gate
        The same for the same season and log. Open where nothing in ``items`` shuts.

    Raises
    ------
    audit.refusal.Refusal
        The second engine, great-expectations, is not installed.
    """
    season, report, declared = decided.clean, decided.report, decided.declared
    shut_from = float(declared.settings["gate.shut_from"].value)
    said = said_in(decided.replayed)
    engines = ask_both(season, declared)
    unseen = unseen_in(season, declared, report)
    waiting = waiting_for(report.findings, said, shut_from)
    items = list(found_items(report.findings, season, said, shut_from, unseen.told))
    items += log_items(decided.replayed, decided.damaged, waiting)
    items += rule_items(report, declared.settings["gate.must_run"].value)
    items += engines.faults
    told = {(cell.label, cell.field) for item in items if item.shuts for cell in item.cells if cell.label}
    answered = {(cell.label, cell.field) for item in items if item.sort == "kept" for cell in item.cells}
    items += breach_items(engines.validations, season, declared, report, said, told, answered)
    items += unread_items(unseen, season, said, told)
    rows = len(season.frame("handlings")) if season.has("handlings") else 0
    if not rows:
        items.append(OpenItem("no_rows", shuts=True, says="The season has no row of handlings."))
    return Gate(
        season=season.name,
        items=in_order(items, season),
        validations=engines.validations,
        unseen=unseen,
        rows=rows,
        notes=report.count("note"),
        not_looked_up=tuple(
            (f"{name}.{key.field}", key.table)
            for name in season.tables
            for key in declared.tables[name].foreign_keys
            if season.has(name, key.field) and (key.table, key.column) not in engines.looked_up
        ),
    )

"""The verdict in one sentence, and how items are counted, the same in text, notebook and page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.handover.gate.sorts import SORTS
from audit.review.wording import counted, listed, some_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.handover.gate.gate import Gate
    from audit.handover.gate.item import OpenItem
    from audit.handover.gate.sorts import Sort

__all__ = [
    "EMPTY",
    "NEXT",
    "cell_notes",
    "cells_named",
    "count_words",
    "engine_sentence",
    "headline",
    "listed_words",
    "sort_word",
    "what_is_seen",
]

#: What to do when the gate is shut.
NEXT = "Settle these at the desk, in the sheet or from the field notebook, and ask the gate again."
#: What is shown of an empty cell.
EMPTY = "(empty)"
#: Cells of one item that a sentence names.
_NAMED = 6


def headline(gate: Gate) -> str:
    """Give the verdict in one sentence, such as: The gate is shut: 3 errors and 1 open question."""
    if not gate.is_open:
        return f"The gate is shut: {count_words(gate.counts())}."
    handlings = counted(gate.rows, "handling")
    return f"The gate is open: nothing holds the {handlings} of {gate.season} back."


def count_words(counts: Mapping[Sort, int]) -> str:
    """Count items by sort: ``3 errors, 1 suspect and 1 open question``."""
    words = [counted(number, SORTS[sort].one, SORTS[sort].many) for sort, number in counts.items()]
    return listed(words)


def listed_words(gate: Gate) -> str:
    """Count what holds nothing back; empty where there is none."""
    words = [
        counted(number, SORTS[sort].one, SORTS[sort].many)
        for sort, number in gate.counts(shutting=False).items()
    ]
    if gate.notes:
        words.append(counted(gate.notes, "note of the audit", "notes of the audit"))
    return f"Listed, and not in the way: {listed(words)}." if words else ""


def sort_word(item: OpenItem) -> str:
    """Name the sort of an item as it stands before a place: ``ERROR``; the same words as in the findings."""
    return SORTS[item.sort].one.upper()


def cell_notes(item: OpenItem) -> list[str]:
    """Say of each cell what was probably meant; of several, also where each stands and who decided it."""
    several = len(item.cells) > 1
    told = []
    for cell in item.cells[:_NAMED]:
        stands = (cell.text or EMPTY) if several else ""
        note = ", ".join(filter(None, (stands, cell.suggested, cell.said if several else "")))
        if note:
            told.append(f"{cell.where}: {note}" if several else note)
    return told


def engine_sentence(gate: Gate) -> str:
    """Say what the second engine was asked and how much of it holds."""
    if not gate.validations:
        return "The second engine checked no table."
    judged = [one for validation in gate.validations for one in validation.judged]
    failing = sum(not one.holds for one in judged)
    cells = len({(one.label, one.field) for part in gate.validations for one in part.breaches})
    asked = (
        f"The second engine ({gate.validations[0].engine}) held {counted(len(gate.validations), 'table')} "
        f"against {counted(len(judged), 'expectation')}"
    )
    if not failing:
        return f"{asked}: all hold."
    where = f", in {counted(cells, 'cell')}" if cells else ""
    return f"{asked}: {failing:,} {'is' if failing == 1 else 'are'} broken{where}."


def _are(cells: int) -> str:
    return f"{'is' if cells == 1 else 'are'} {counted(cells, 'such cell') if cells else 'none'}"


def what_is_seen(gate: Gate) -> list[str]:
    """Say what no engine can see, one sentence each."""
    unseen = gate.unseen
    opening = "Engines see values, not texts: to them a cell that could not be read is empty."
    told = [f"{opening} The rule 'reading' tells of each; there {_are(len(unseen.told))}."]
    if unseen.nothing:
        words = ", ".join(
            f"'{text}' in {counted(number, 'cell')}" for text, number in unseen.nothing[:_NAMED]
        )
        more = len(unseen.nothing) - _NAMED
        tail = f", and {more:,} more texts" if more > 0 else ""
        told.append(f"Texts that were taken for no value: {words}{tail}.")
    told += [
        f"The column {field} was not looked up: there is no table {table}."
        for field, table in gate.not_looked_up
    ]
    return told


def cells_named(item: OpenItem) -> str:
    """Name the cells of an item: ``Ringing 2026 F17, G17 and 3 more``; the sheet once where it is one."""
    names: list[str] = []
    before = ""
    for cell in item.cells:
        sheet = cell.label.rpartition("!")[0]
        same = sheet and sheet == before and cell.where.startswith(f"{sheet} ")
        names.append(cell.where.removeprefix(f"{sheet} ") if same else cell.where)
        before = sheet
    return some_of(names, _NAMED)

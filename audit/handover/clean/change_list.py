"""The list of changes: every cell that holds something else than was typed, or was looked at and kept."""

from __future__ import annotations

from dataclasses import astuple, dataclass, fields, replace
from functools import partial
from typing import TYPE_CHECKING

from audit.handover.book.sheet_cells import split_address
from audit.handover.book.stored_cells import StoredCells, labels_of
from audit.handover.part import Part
from audit.handover.table_file import write_table
from audit.intake.grid import stored_text
from audit.review.wording import counted
from audit.season import row_label

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence
    from pathlib import Path

    from audit.handover.clean.decided_season import DecidedSeason
    from audit.intake.grid import RawCell
    from audit.review.replay import Settled
    from audit.season import Season

__all__ = ["CHANGED", "CHANGES", "Change", "change_list_part", "changes_of", "write_changes"]

#: Name of the file.
CHANGES = "changes.csv"
#: How a cell came to hold something else than was typed.
CHANGED = ("accept", "amend", "written out", "recalculated")
_NO_RESULT = (
    "The formula is more than plain arithmetic: it has no result until the workbook is opened and saved in a "
    "spreadsheet program."
)


@dataclass(frozen=True, slots=True)
class Change:
    """One cell; all texts. The names are the columns of the file, in this order.

    Attributes
    ----------
    sheet, cell, row, column : str
        Where it stands in the file as typed, and the header as typed.
    field : str
        Canonical column, or the own header of a column that means none.
    box, date, ring, tag : str
        Of its row, as typed.
    typed, now : str
        Text as typed, of a formula that was worked out anew its former result; text in the clean season.
    who, at : str
        Who decided it and when; several people who came to the same are parted by ``; ``.
    why, rule, looked_at : str
        Reason in the person's words; rules and sentence of the finding that was looked at.
    how : str
        ``accept`` or ``amend``; ``written out`` for a cell that was read with the one above, which was
        changed for its own row alone; ``recalculated`` for a formula that depends on such a cell; ``keep``
        for a cell that was looked at and stays; ``mended`` for one that was mended in the sheet since.
    decision : str
        Identities in the log of decisions.
    note : str
        What else a person must know about the cell.
    """

    sheet: str
    cell: str
    row: str
    column: str
    field: str
    box: str
    date: str
    ring: str
    tag: str
    typed: str
    now: str
    who: str
    at: str
    why: str
    rule: str
    looked_at: str
    how: str
    decision: str
    note: str = ""

    @property
    def label(self) -> str:
        """Row label."""
        return row_label(self.sheet, int(self.row))


def changes_of(decided: DecidedSeason) -> tuple[Change, ...]:
    """List all cells that were decided, and formulas worked out anew, in the order of the sheets."""
    stored = StoredCells(decided.typed)
    listed = [
        *(_settled(decided, stored, one, changed=True) for one in decided.replayed.applied),
        *(_settled(decided, stored, one, changed=False) for one in decided.replayed.kept),
        *(_written_out(decided, stored, one) for one in decided.replayed.written_out),
        *_recalculated(decided),
    ]
    return tuple(sorted(listed, key=_order(decided.typed)))


def _order(season: Season) -> Callable[[Change], tuple[int, int, int, str]]:
    sheets = {sheet: None for table in season.tables.values() for sheet, _ in table.columns}
    numbers = {sheet: number for number, sheet in enumerate(sheets)}

    def order(change: Change) -> tuple[int, int, int, str]:
        address = split_address(change.cell)
        return numbers[change.sheet], int(change.row), address[1] if address else 0, change.field

    return order


def _settled(decided: DecidedSeason, stored: StoredCells, one: Settled, *, changed: bool) -> Change:
    """Tell of one decided cell; questions that an answer closed are left out."""
    answers = [decision for decision, _ in one.choices if decision.verb != "ask"]
    typed, how = one.typed, str(answers[0].verb) if changed else "keep"
    if one.already:
        typed, how = next(cell.observed for _, cell in one.choices if cell.observed != one.text), "mended"
    return _change(
        decided.typed,
        one.label,
        one.field,
        typed=typed,
        now=one.text,
        who=_each(decision.who for decision in answers),
        at=_each(decision.at for decision in answers),
        why=_each(decision.reason for decision in answers),
        rule=_each(rule for decision in answers for rule in decision.rules),
        looked_at=_each(decision.asked for decision in answers),
        how=how,
        decision=_each(decision.identity for decision in answers),
        note=_note(stored.cell(one.label, one.field)) if how in CHANGED else "",
    )


def _written_out(decided: DecidedSeason, stored: StoredCells, one: Settled) -> Change:
    """Tell of a cell that holds what it was read with, since the cell above holds another text now."""
    change = _settled(decided, stored, one, changed=True)
    note = "It was read with the cell above, which was changed for its own row alone."
    return replace(change, how="written out", looked_at="", note=f"{note} {change.note}".strip())


def _each(texts: Iterable[str]) -> str:
    return "; ".join(dict.fromkeys(text for text in texts if text))


def _note(stored: RawCell | None) -> str:
    if stored is None:
        return ""
    notes = []
    if stored.formula and not stored.merged:
        notes.append(f"The value takes the place of the formula {stored.formula}.")
    if stored.merged:
        notes.append("The cell was covered by merged cells.")
    return " ".join(notes)


def _recalculated(decided: DecidedSeason) -> Iterator[Change]:
    """Tell of formulas whose results are others now."""
    for table in decided.clean.tables.values():
        for (sheet, field), column in table.columns.items():
            written = column.written
            if written is None or not written.results:
                continue
            labels = labels_of(table, sheet)
            for number, cell in sorted(written.results.items()):
                before = written.cells[number].value
                if cell.value == before:
                    continue
                yield _change(
                    decided.typed,
                    labels[number],
                    field,
                    typed=stored_text(before),
                    now=stored_text(cell.value),
                    why=f"Cells were changed that the formula {cell.formula} depends on.",
                    how="recalculated",
                    note="" if cell.value is not None else _NO_RESULT,
                )


def _change(season: Season, label: str, field: str, **texts: str) -> Change:
    cell = season.cell(label, field)
    held = {one.name: "" for one in fields(Change)}
    return Change(
        **{
            **held,
            "sheet": cell.sheet,
            "cell": cell.address if cell.column else "",
            "row": str(cell.row),
            "column": cell.column,
            "field": field,
            "box": cell.marks.box,
            "date": cell.marks.date,
            "ring": cell.marks.ring,
            "tag": cell.marks.tag,
            **texts,
        }
    )


def write_changes(changes: Sequence[Change], path: Path) -> None:
    """Write the list: UTF-8, a text that a spreadsheet would run as a formula with an apostrophe in front."""
    write_table(path, ([one.name for one in fields(Change)], *map(astuple, changes)))


def change_list_part(decided: DecidedSeason) -> Part:
    """Lay out the list of changes as a part of what goes out: ``changes.csv``."""
    changes = changes_of(decided)
    told = []
    unknown = sum(one.how == "recalculated" and not one.now for one in changes)
    if unknown:
        told.append(
            f"{counted(unknown, 'formula')} could not be worked out anew after cells were changed: their "
            "cells count as not filled in. Open the clean workbook in a spreadsheet program, save it, and "
            "look at them."
        )
    return Part("List of changes", {CHANGES: partial(write_changes, changes)}, tuple(told))

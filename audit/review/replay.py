"""The clean season: the sheet as typed with all that was decided, each time the same."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from audit.intake.amending import amend_all
from audit.intake.held_below import edits_below
from audit.review.decisions import text_of
from audit.review.places import place
from audit.review.row_texts import row_texts
from audit.review.standing import same_cell, standing

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Sequence

    from audit.declarations import Declarations
    from audit.review.decisions import DecidedCell, Decision
    from audit.review.places import Choice, Orphan
    from audit.review.standing import Answered, Conflict
    from audit.season import Season

__all__ = ["Replayed", "Settled", "replay"]


@dataclass(frozen=True, slots=True)
class Settled:
    """One cell of the season and what was decided about it.

    Attributes
    ----------
    label, field : str
        Row label and canonical column.
    typed : str
        The text as typed in the file of today.
    text : str
        The text in the clean season.
    choices : tuple of (Decision, DecidedCell)
        All decisions that came to this, by identity.
    """

    label: str
    field: str
    typed: str
    text: str
    choices: tuple[tuple[Decision, DecidedCell], ...]

    @property
    def already(self) -> bool:
        """Whether the sheet itself was mended, so that nothing was left to change."""
        return self.typed == self.text and any(cell.observed != self.text for _, cell in self.choices)


@dataclass(frozen=True, slots=True)
class Replayed:
    """A season with all that was decided.

    Attributes
    ----------
    season : Season
        The clean season; the one as typed where nothing was decided.
    applied, kept, asked : tuple of Settled
        Cells that hold what was decided, that stay as typed, and that are still asked about; in sheet order.
    conflicts : tuple of Conflict
        Cells on which two decisions differ. None of the cells of these decisions is changed.
    orphans : tuple of Orphan
        Decided cells without a place in this sheet; the other cells of their decisions are changed.
    held : tuple of Settled
        Cells that stay as typed only because their decision is in conflict about another cell.
    answered : tuple of Answered
        Questions closed by somebody who did not know of them.
    written_out : tuple of Settled
        Cells that were read with one above that holds another text now, and hold what they held; with what
        was decided about that one.
    """

    season: Season
    applied: tuple[Settled, ...] = ()
    kept: tuple[Settled, ...] = ()
    asked: tuple[Settled, ...] = ()
    conflicts: tuple[Conflict, ...] = ()
    orphans: tuple[Orphan, ...] = ()
    held: tuple[Settled, ...] = ()
    answered: tuple[Answered, ...] = ()
    written_out: tuple[Settled, ...] = ()

    @property
    def is_settled(self) -> bool:
        """Whether nothing is left to look at: no conflict, no orphan, no open question."""
        return not (self.conflicts or self.orphans or self.asked)


def replay(season: Season, declared: Declarations, decisions: Iterable[Decision]) -> Replayed:
    """Apply all that stands to a season as typed.

    Parameters
    ----------
    season : Season
        As typed; not changed.
    decisions : iterable of Decision
        All of a log, in any order: what stands is worked out here, where rows tell which decisions are about
        one cell even when the sheet was mended between them.

    Returns
    -------
    Replayed
        On the same sheet each time the same, bit for bit; on a sheet that was sorted anew the same rows in
        the other order.
    """
    known = {decision.identity: decision for decision in decisions}
    placed = place(season, known.values())
    place_of = {id(cell): key for key, here in placed.at.items() for _, cell in here}
    place_of |= {id(one.cell): (one.label, one.cell.field) for one in placed.orphans if one.label}
    stands = standing(known.values(), lambda cell: place_of.get(id(cell)) or same_cell(cell))
    live = {(decision.identity, id(cell)) for decision in stands.live for cell in decision.cells}

    def row_of(cell: DecidedCell) -> str:
        return place_of.get(id(cell), ("", ""))[0]

    in_conflict = {decision.identity for conflict in stands.conflicts for decision in conflict.decisions}
    disputed = {place_of.get(id(conflict.cell)) for conflict in stands.conflicts}
    sorts: dict[str, list[Settled]] = {"applied": [], "kept": [], "asked": [], "held": []}
    for key, choices in placed.at.items():
        here = tuple(sorted((one for one in choices if (one[0].identity, id(one[1])) in live), key=_identity))
        if here and key not in disputed:
            sort, settled = _settled(season, key, here, in_conflict)
            sorts[sort].append(settled)
    edits = [(one.label, one.field, one.text) for one in sorts["applied"] if one.text != one.typed]
    order = _in_sheet_order(season)
    return Replayed(
        season=amend_all(season, declared, edits) if edits else season,
        **{sort: tuple(sorted(some, key=order)) for sort, some in sorts.items()},
        conflicts=tuple(replace(one, label=row_of(one.cell)) for one in stands.conflicts),
        orphans=tuple(one for one in placed.orphans if (one.decision.identity, id(one.cell)) in live),
        answered=tuple(replace(one, label=row_of(one.cell)) for one in stands.answered),
        written_out=_written_out(season, declared, sorts["applied"], edits),
    )


def _written_out(
    season: Season,
    declared: Declarations,
    applied: Iterable[Settled],
    edits: Sequence[tuple[str, str, str]],
) -> tuple[Settled, ...]:
    """Name the cells that must be written out, since one above them was changed."""
    decided = {(one.label, one.field): one.choices for one in applied}
    return tuple(
        Settled(label, field, "", text, decided[source])
        for (label, field, text), source in edits_below(season, declared, edits)
    )


def _settled(
    season: Season, key: tuple[str, str], here: tuple[Choice, ...], in_conflict: Collection[str]
) -> tuple[str, Settled]:
    """Say what becomes of one cell on which nobody differs."""
    label, field = key
    typed_texts = season.tables[season.table_of(label)].typed
    typed = str(typed_texts.at[label, field]) if field in typed_texts.columns else ""
    answers = [one for one in here if one[0].verb != "ask"]
    free = [one for one in answers if one[0].identity not in in_conflict]
    if not free:
        return "held" if answers else "asked", Settled(label, field, typed, typed, here)
    decision, cell = free[0]
    text = text_of(decision, cell)
    if text is None or text == cell.observed:
        # A formula, or blanks around a text, may stand there a little otherwise by now.
        return "kept", Settled(label, field, typed, typed, here)
    return "applied", Settled(label, field, typed, text, here)


def _in_sheet_order(season: Season) -> Callable[[Settled], tuple[int, int, int]]:
    tables = list(season.tables)

    def order(one: Settled) -> tuple[int, int, int]:
        name = season.table_of(one.label)
        texts = row_texts(season.tables[name])
        column = texts.fields.index(one.field) if one.field in texts.fields else len(texts.fields)
        return tables.index(name), texts.at[one.label], column

    return order


def _identity(choice: Choice) -> str:
    return choice[0].identity

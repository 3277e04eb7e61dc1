"""What a person decided about cells of a season: frozen records, one line of the log each."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["VERBS", "DecidedCell", "Decision", "Verb"]

Verb = Literal["accept", "amend", "keep", "ask", "undo"]

#: What can be decided, and the taking back of it.
VERBS: tuple[Verb, ...] = ("accept", "amend", "keep", "ask", "undo")


@dataclass(frozen=True, slots=True)
class DecidedCell:
    """One cell that a decision is about, as it stood in the file.

    Attributes
    ----------
    sheet, row : str, int
        Where it stood; the sheet may have been sorted since.
    field : str
        Canonical column name.
    observed : str
        The text as typed in the file, never an amended one.
    instead : str or None
        The text that takes its place, empty for a cell to be emptied; None where it stays as typed.
    as_typed : mapping of str to str
        Texts of the whole row as typed in the file, by canonical column, empty ones left out: how the row is
        found again.
    twin : int
        Which of several rows with the same texts, in sheet order, counted from 1.
    """

    sheet: str
    row: int
    field: str
    observed: str
    instead: str | None
    as_typed: Mapping[str, str]
    twin: int = 1


@dataclass(frozen=True, slots=True)
class Decision:
    """One decision; an ``undo`` takes another one back.

    Attributes
    ----------
    identity : str
        Unique for ever, in whatever log it stands.
    at : str
        Time of the decision, ISO 8601 with offset.
    who : str
        Initials of the person.
    verb : {'accept', 'amend', 'keep', 'ask', 'undo'}
    cells : tuple of DecidedCell
        All cells decided at once: one slip that moved many is one decision. Empty for an ``undo``.
    reason : str
        Why, in the person's words; for ``ask`` what is to be looked up.
    findings, rules : tuple of str
        Identities and slugs of the findings that were looked at.
    asked : str
        The sentence that the person saw.
    replaces : tuple of str
        Identities of decisions that the person knew of and that this one takes the place of.
    undoes : str
        Identity of the decision that an ``undo`` takes back; an ``undo`` may be taken back, too.
    """

    identity: str
    at: str
    who: str
    verb: Verb
    cells: tuple[DecidedCell, ...] = ()
    reason: str = ""
    findings: tuple[str, ...] = ()
    rules: tuple[str, ...] = ()
    asked: str = ""
    replaces: tuple[str, ...] = field(default=())
    undoes: str = ""

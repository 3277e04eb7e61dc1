"""What a person decided about cells of a season: frozen records, one line of the log each."""

from __future__ import annotations

import datetime as dt
import uuid
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

__all__ = ["VERBS", "DecidedCell", "Decision", "Verb", "decide", "text_of", "undo_of"]

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
        The text that takes its place, empty for a cell to be emptied; None where it stays as typed. A
        cell that is kept after it was amended holds the amended text.
    as_typed : mapping of str to str
        Texts of the whole row as typed in the file, by canonical column, empty ones left out: how the row is
        found again.
    twin : int
        Which of several rows with the same texts, in sheet order, counted from 1.
    table : str
        Canonical table of the sheet, empty where it is not known.
    empty : tuple of str
        Columns of the sheet in which the row held nothing.
    twins : int
        How many rows of the sheet held the same texts, this one included.
    alike : int
        How many rows already read as this one will when the text is in its place.
    nearest : int or None
        In how many columns the most similar of all other rows of the table differed, 0 for a row of another
        sheet with the same texts; None where that is not known, or the row is the only one.
    """

    sheet: str
    row: int
    field: str
    observed: str
    instead: str | None
    as_typed: Mapping[str, str]
    twin: int = 1
    table: str = ""
    empty: tuple[str, ...] = ()
    twins: int = 1
    alike: int = 0
    nearest: int | None = None


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


def decide(
    who: str,
    verb: Verb,
    cells: Iterable[DecidedCell] = (),
    *,
    reason: str = "",
    findings: Iterable[str] = (),
    rules: Iterable[str] = (),
    asked: str = "",
    replaces: Iterable[str] = (),
) -> Decision:
    """Make a decision of now, with an identity of its own."""
    return Decision(
        identity=uuid.uuid4().hex,
        at=_now(),
        who=who,
        verb=verb,
        cells=tuple(cells),
        reason=reason,
        findings=tuple(findings),
        rules=tuple(rules),
        asked=asked,
        replaces=tuple(replaces),
    )


def undo_of(decision: Decision, who: str) -> Decision:
    """Make what takes a decision back; of an ``undo``, what brings back the decision that it took back."""
    return Decision(uuid.uuid4().hex, _now(), who, "undo", undoes=decision.identity)


def text_of(decision: Decision, cell: DecidedCell) -> str | None:
    """Say what one of its cells shall hold; None where that is a question."""
    if decision.verb == "ask":
        return None
    return cell.observed if cell.instead is None else cell.instead


def _now() -> str:
    return dt.datetime.now().astimezone().isoformat(timespec="seconds")

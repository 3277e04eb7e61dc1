"""What the filled lines about one question mean, if they mean one thing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.handover.query.filled import NotTaken
from audit.handover.query.words import BY_WHOM, NOTHING, SAME, UNREADABLE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.handover.query.filled import FilledLine
    from audit.review.decisions import Verb

__all__ = ["Answer", "meaning_of"]


@dataclass(frozen=True, slots=True)
class Answer:
    """What is to be decided about the cell.

    Attributes
    ----------
    verb : {'amend', 'keep', 'ask'}
    instead : str or None
        The text that takes its place; None where it stays as typed.
    who : str
        Who looked it up.
    remark : str
    where : str
        Sheet and cell that it was written in.
    """

    verb: Verb
    instead: str | None
    who: str
    remark: str
    where: str

    def agrees_with(self, other: Answer) -> bool:
        """Whether both come to the same."""
        return (self.verb, self.instead) == (other.verb, other.instead)


def meaning_of(lines: Sequence[FilledLine], typed: str, who: str) -> Answer | tuple[NotTaken, ...]:
    """Say what the lines about one question mean, or why they cannot be taken.

    Parameters
    ----------
    lines : sequence of FilledLine
        At least one.
    typed : str
        What was typed into the cell.
    who : str
        Who looked up the lines that name nobody.
    """
    read = [_one(line, typed, who) for line in lines]
    meant = [one for one in read if isinstance(one, Answer)]
    if len(meant) < len(read):
        return tuple(doubt for one in read if not isinstance(one, Answer) for doubt in one)
    if not all(one.agrees_with(meant[0]) for one in meant):
        places = ", ".join(line.where for line in lines)
        what = f"The lines {places} answer one question differently."
        return (NotTaken(lines[0].where, what, "Keep one of them."),)
    return meant[0]


def _one(line: FilledLine, typed: str, who: str) -> Answer | tuple[NotTaken, ...]:
    if line.doubts:
        return line.doubts
    said = [*([f"'{line.says}'"] if line.says else []), *line.marks]
    if not said:
        cure = f"Write what the notebook says, or yes under '{UNREADABLE}'."
        return (NotTaken(line.where, "There is a remark, but no answer.", cure),)
    if len(said) > 1:
        return (NotTaken(line.where, f"The line says both {said[0]} and {said[1]}.", "Leave one of them."),)
    who = line.who or who
    if not who:
        cure = f"Write initials under '{BY_WHOM}', or once at the top of the sheet."
        return (NotTaken(line.where, "Nobody is named who looked it up.", cure),)
    if UNREADABLE in line.marks:
        return Answer("ask", None, who, line.remark, line.where)
    text = "" if NOTHING in line.marks else line.says
    if SAME in line.marks or text == " ".join(typed.split()):
        return Answer("keep", None, who, line.remark, line.where)
    return Answer("amend", text, who, line.remark, line.where)

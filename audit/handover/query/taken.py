"""What came of a filled query sheet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.review.wording import counted

if TYPE_CHECKING:
    from audit.handover.query.filled import NotTaken
    from audit.review.decisions import Decision

__all__ = ["Taken", "answers_text"]


@dataclass(frozen=True, slots=True, repr=False)
class Taken:
    """What came of a filled query sheet.

    Attributes
    ----------
    decisions : tuple of Decision
        To be appended to the log, in the order in which the questions were asked.
    again : int
        Lines whose answer the log has already.
    not_taken : tuple of NotTaken
        Lines that contradict themselves, name nobody, or hold what the declarations refuse.
    orphans : tuple of NotTaken
        Lines whose question the log does not know, or whose row is no longer in the season.
    remarks : tuple of NotTaken
        Answers that were taken although they are unlikely.
    """

    decisions: tuple[Decision, ...]
    again: int
    not_taken: tuple[NotTaken, ...]
    orphans: tuple[NotTaken, ...]
    remarks: tuple[NotTaken, ...] = ()

    def __repr__(self) -> str:
        return answers_text(self)


def answers_text(taken: Taken) -> str:
    """Say in plain words what came of a filled query sheet."""
    told = [
        f"{counted(len(taken.decisions), 'answer')} taken over."
        if taken.decisions
        else "No new answer was found."
    ]
    if taken.again:
        told.append(f"{counted(taken.again, 'answer')} had been read before; nothing is doubled.")
    for heading, lines in (
        ("Not taken over:", taken.not_taken),
        ("Without a question or a row:", taken.orphans),
        ("Taken over, but look again:", taken.remarks),
    ):
        if lines:
            told += [heading, *(f"  {line}" for line in lines)]
    return "\n".join(told)

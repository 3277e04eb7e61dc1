"""What a trainee has marked on a practice sheet: cell by cell, with what was meant, or to be asked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.refusal import Refusal
from audit.review.wording import listed

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from audit.practice.exercise.exercise import Exercise

    Place = tuple[str, str]

__all__ = ["ASK", "Answer", "answers_in", "is_ask"]

#: What stands in a cell that must be looked up in the field notebook.
ASK = "?"
_ASKS = frozenset({"?", "??", "???", "ask", "ask?", "asked"})


@dataclass(frozen=True, slots=True)
class Answer:
    """One cell that was marked as wrong.

    Attributes
    ----------
    place : (str, str)
        Row label and column.
    text : str
        What was meant, as typed; ``?`` where the field notebook must be asked, empty where nothing was named.
    """

    place: Place
    text: str

    @property
    def asks(self) -> bool:
        """Whether the field notebook shall be asked."""
        return self.text == ASK


def is_ask(text: str) -> bool:
    """Whether a text says that the field notebook must be asked.

    Examples
    --------
    >>> is_ask(" ? "), is_ask("Ask"), is_ask("212")
    (True, True, False)
    """
    return text.strip().casefold() in _ASKS


def answers_in(
    exercise: Exercise, marked: Mapping[tuple[int | str, str], str] | Iterable[Answer]
) -> tuple[Answer, ...]:
    """Take what was marked, in the order of the sheet.

    Parameters
    ----------
    marked : mapping of (line, column) to str, or iterable of Answer
        Number of the line on the sheet (or its row label) and column -> what was meant, or ``?``. Of several
        answers for one cell the last one holds.

    Raises
    ------
    audit.refusal.Refusal
        The sheet has no such line or column.
    """
    labels, fields = exercise.labels, exercise.fields
    if hasattr(marked, "items"):
        given = [(line, str(column), str(text)) for (line, column), text in marked.items()]
    else:
        given = [(answer.place[0], answer.place[1], answer.text) for answer in marked]
    taken: dict[Place, Answer] = {}
    for line, column, text in given:
        label = labels[line - 1] if isinstance(line, int) and 1 <= line <= len(labels) else line
        field = _field(column, fields)
        if label not in labels or not field:
            raise Refusal(
                f"This sheet has no cell in line {line}, column '{column}'.",
                where=exercise.name,
                cure=f"Name a line from 1 to {len(labels)} and a column: {listed(fields)}.",
            )
        plain = " ".join(text.split())
        taken[str(label), field] = Answer((str(label), field), ASK if is_ask(plain) else plain)
    order = {(label, field): i for i, (label, field) in enumerate((la, fi) for la in labels for fi in fields)}
    return tuple(sorted(taken.values(), key=lambda answer: order[answer.place]))


def _field(column: str, fields: Iterable[str]) -> str:
    """Column as it is called on the sheet, with or without its unit."""
    word = column.strip().casefold().replace(" ", "_")
    return next((field for field in fields if word in (field, field.rpartition("_")[0])), "")

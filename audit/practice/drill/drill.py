"""One drill, as a record of what makes it: how a round is made, marked, kept, shown and written."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, TypeVar

from audit.practice.drill.round_code import Coded

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from audit.declarations import Declarations
    from audit.practice.drill.answer_sheet import AnswerSheet
    from audit.practice.drill.level import DrillLevel
    from audit.practice.drill.paper import Paper
    from audit.practice.exercise.drill_record import DrillRecord

__all__ = ["Drill"]

R = TypeVar("R", bound=Coded)
A = TypeVar("A")
S = TypeVar("S")


def _no_print(_made: object, _paper: str) -> Mapping[str, bytes]:
    return {}


@dataclass(frozen=True, slots=True)
class Drill(Generic[R, A, S]):
    """A drill of rounds ``R``, that are answered by ``A`` and come out as ``S``.

    Attributes
    ----------
    name : str
        As the command line and the file of progress call it.
    levels : callable
        Lists its levels, easiest first.
    make : callable
        Makes a round: trainee, number, name of the level, earlier rounds of the trainee.
    mark : callable
        Marks a round by its answers.
    record : callable
        Makes the line of progress of a marked round, at a moment, ISO 8601.
    sheet, key : callable
        The page with the questions, and that with the right answers.
    result : callable
        The page that says what came of a round; the records are all of the trainee, this one too.
    answers : AnswerSheet
        The sheet that the answers are written into.
    prints : callable
        PDF by the end of its name, ``.pdf`` and ``.key.pdf``, for a paper; none for most drills.
    why_not : callable
        Why there are not more levels, to end a sentence with; empty for most drills.
    """

    name: str
    levels: Callable[[Declarations], Sequence[DrillLevel]]
    make: Callable[[str, int, str, Sequence[DrillRecord], Declarations], R]
    mark: Callable[[R, A, Declarations], S]
    record: Callable[[S, str], DrillRecord]
    sheet: Callable[[R, Declarations], Paper]
    key: Callable[[R, Declarations], Paper]
    result: Callable[[S, Sequence[DrillRecord], Declarations], Paper]
    answers: AnswerSheet[R, A]
    prints: Callable[[R, str], Mapping[str, bytes]] = _no_print
    why_not: Callable[[Declarations], str] = lambda _: ""

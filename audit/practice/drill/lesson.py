"""A trainee at a drill, without any widget: the round at hand, what came of it, what comes next."""

from __future__ import annotations

from typing import TYPE_CHECKING, Generic, TypeVar

from audit.practice.drill.level import level_named, next_level
from audit.practice.drill.round_code import Coded
from audit.practice.exercise.kept import Kept
from audit.practice.exercise.lesson import trainee_named

if TYPE_CHECKING:
    from pathlib import Path

    from audit.declarations import Declarations
    from audit.practice.drill.drill import Drill
    from audit.practice.drill.paper import Paper
    from audit.practice.exercise.drill_record import DrillRecord

__all__ = ["DrillLesson"]

R = TypeVar("R", bound=Coded)
A = TypeVar("A")
S = TypeVar("S")


class DrillLesson(Generic[R, A, S]):
    """One trainee at a drill.

    Parameters
    ----------
    drill : Drill
    trainee : str
        Initials.
    declared : Declarations
    path : Path, optional
        The file of progress; without it nothing is kept.
    level : str or int, optional
        By default the first that is not settled.
    number : int, optional
        Of the round; by default one more than the trainee has handed in.

    Attributes
    ----------
    level : str
        Name of the level of the round at hand.
    round : R
        The round at hand.
    score : S or None
        What came of it; None as long as it is not handed in.
    """

    def __init__(
        self,
        drill: Drill[R, A, S],
        trainee: str,
        declared: Declarations,
        *,
        path: Path | None = None,
        level: str | int | None = None,
        number: int | None = None,
    ) -> None:
        self.drill = drill
        self.trainee = who = trainee_named(trainee)
        self.declared = declared
        self._kept: Kept[DrillRecord] = Kept(path, lambda progress: progress.drills_of(who, drill.name))
        self._wish: str | None = None
        self.choose(level)
        self._number = 0
        self.level = ""
        self.score: S | None = None
        self.round: R = self._made(number)

    @property
    def wish(self) -> str | None:
        """Name of the level that was wished for; None where what was right so far decides."""
        return self._wish

    def choose(self, level: str | int | None) -> None:
        """Wish for a level of all rounds from the next one on, or for none.

        Raises
        ------
        audit.refusal.Refusal
            There is no such level.
        """
        if level is None:
            self._wish = None
            return
        drill = self.drill
        levels, why_not = drill.levels(self.declared), drill.why_not(self.declared)
        self._wish = level_named(levels, level, drill.name, why_not).slug

    @property
    def records(self) -> tuple[DrillRecord, ...]:
        """Rounds of the trainee, in the order in which they were handed in."""
        return self._kept.records

    @property
    def sheet(self) -> Paper:
        """The round at hand as a page."""
        return self.drill.sheet(self.round, self.declared)

    @property
    def result(self) -> Paper | None:
        """What came of the round at hand as a page; None as long as it is not handed in."""
        if self.score is None:
            return None
        return self.drill.result(self.score, self.records, self.declared)

    def hand_in(self, answers: A, *, at: str) -> S:
        """Mark the round at hand, and keep what came of it; of the same round the first time counts.

        Parameters
        ----------
        answers : A
        at : str
            The moment, ISO 8601.

        Raises
        ------
        audit.refusal.Refusal
            The answers do not fit the round, or the file of progress cannot be written.
        """
        score = self.drill.mark(self.round, answers, self.declared)
        self._kept.add(self.drill.record(score, at))
        self.score = score
        return score

    def next(self, *, level: str | int | None = None, number: int | None = None) -> R:
        """Go on to the next round; what was missed comes more often.

        Parameters
        ----------
        level : str or int, optional
            By default that of before where one was named, else the first that is not settled.
        number : int, optional
            By default one more than that of the round at hand, or than the rounds handed in so far.
        """
        if level is not None:
            self.choose(level)
        self.round, self.score = self._made(number), None
        return self.round

    def _made(self, number: int | None) -> R:
        records, levels, name = self.records, self.drill.levels(self.declared), self.drill.name
        if self._wish is None:
            level = next_level(levels, records, self.declared, name)
        else:
            level = level_named(levels, self._wish, name)
        count = max(self._number, len(records)) + 1 if number is None else number
        made = self.drill.make(self.trainee, count, level.slug, records, self.declared)
        self._number, self.level = count, level.slug
        return made

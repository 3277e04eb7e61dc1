"""Practise to read rings and tags: numbers drawn as they look, shown for a chosen time, typed back."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.drilling import DrillPractice, MarkedDrill, begun, from_answers
from audit.practice.reading.reading_drill import reading_drill
from audit.practice.reading.reading_round import MARKS, ReadingRound
from audit.practice.reading.reading_score import ReadingScore
from audit.practice.reading.reading_words import advice, beside_others

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from audit.declarations import Declarations

    Typed = tuple[Sequence[str], Sequence[float] | None]

__all__ = ["ReadBack", "ReadingPractice", "mark_reading", "read_practice"]


class ReadBack(MarkedDrill[ReadingScore]):
    """A marked round: shown as a page; ``score`` holds every number."""

    @property
    def score(self) -> ReadingScore:
        """Every number with what was typed of it."""
        return self.marked

    @property
    def advice(self) -> str:
        """What to practise."""
        return advice(self.marked)

    @property
    def beside_others(self) -> str:
        """All that was misread so far, beside what others published."""
        return beside_others(self.records, self.declared)


class ReadingPractice(DrillPractice[ReadingRound, "Typed", ReadingScore]):
    """A trainee at the reading drill: shown as the round at hand, which is ``round``."""

    desk_at = ("audit.practice.reading.desk", "ReadingDesk")

    def answer(self, answers: Sequence[str], *, seconds: Sequence[float] | None = None) -> ReadBack:
        """Mark what was typed, and keep what came of it.

        Parameters
        ----------
        answers : sequence of str
            One for each number, in order; ``?`` where it could not be read.
        seconds : sequence of float, optional
            How long each answer took, s.

        Raises
        ------
        audit.refusal.Refusal
            There are not as many answers as numbers, or the file of progress cannot be written.
        """
        return ReadBack(*self._handed_in((answers, seconds)))

    def mark(self, answers: Sequence[str]) -> ReadBack:
        """Do the same, by the name that all drills have for it."""
        return self.answer(answers)


def read_practice(
    trainee: str,
    *,
    level: str | int | None = None,
    seed: int | None = None,
    numbers: int | None = None,
    marks: Sequence[str] = tuple(MARKS),
    progress: str | Path | None = None,
    schemas: str | Path | Declarations | None = None,
) -> ReadingPractice:
    """Begin to practise reading: numbers of rings and tags as they look on metal and on a display.

    Parameters
    ----------
    trainee : str
        Initials.
    level : int or str, optional
        1 to 4, or its name; by default the first that the trainee has not settled.
    seed : int, optional
        Another number, another round; by default the number of the trainee's next round.
    numbers : int, optional
        How many numbers to read; by default as declared.
    marks : sequence of str
        Which of ``ring``, ``tag``, ``plastic`` come.
    progress : path, optional
        File to which each round is added, such as ``practice.progress.jsonl``; without it nothing is kept.
    schemas : path or Declarations, optional
        A team's folder of declarations, laid over the shipped ones: its ring series are read.

    Returns
    -------
    ReadingPractice
        Shown as the round; ``answer(["SV01263", ...])`` marks it, ``next()`` goes on.

    Raises
    ------
    audit.refusal.Refusal
        No such level or mark, no initials, or the file of progress cannot be read.

    Examples
    --------
    >>> practice = read_practice("AB", seed=1, numbers=3)
    >>> practice.answer([one.meant for one in practice.round.shown]).score.right
    3
    """
    return ReadingPractice(begun(reading_drill(numbers, marks), trainee, level, seed, progress, schemas))


def mark_reading(
    answers: str | Path,
    progress: str | Path | None = None,
    *,
    schemas: str | Path | Declarations | None = None,
) -> ReadBack:
    """Mark a sheet of answers that was filled in, and keep what came of it.

    Parameters
    ----------
    answers : path
        As written by `ReadingPractice.write`, with the numbers typed in: .csv, .xlsx or .ods; it is never
        written to.
    progress : path, optional
        File to which the marked round is added. The same round with the same answers is kept once.
    schemas : path or Declarations, optional
        The declarations that the round was made with.

    Raises
    ------
    audit.refusal.Refusal
        The file is no sheet of answers, or cannot be marked.
    """
    return ReadBack(*from_answers(reading_drill(), answers, progress, schemas))

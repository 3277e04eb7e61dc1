"""Practise to read rings and tags: numbers drawn as they look, shown for a chosen time, typed back."""

from __future__ import annotations

from typing import TYPE_CHECKING, Unpack

from audit.drilling import DrillPractice, MarkedDrill, Wishes, begun, from_answers
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
    numbers: int | None = None,
    marks: Sequence[str] = tuple(MARKS),
    **wishes: Unpack[Wishes],
) -> ReadingPractice:
    """Begin to practise reading: numbers of rings and tags as they look on metal and on a display.

    Parameters
    ----------
    trainee : str
        Initials.
    numbers : int, optional
        How many numbers to read; by default as declared.
    marks : sequence of str
        Which of ``ring``, ``tag``, ``plastic`` come.
    **wishes
        ``level`` (number or name), ``seed`` (another number, another round), ``progress`` (file in which
        rounds are kept) and ``schemas`` (a team's folder), all as for `audit.drilling.begun`.
        The ring series of a team are read.

    Returns
    -------
    ReadingPractice
        Shown as the round; ``answer(["SV01263", ...])`` marks it, ``next()`` goes on.

    Examples
    --------
    >>> practice = read_practice("AB", seed=1, numbers=3)
    >>> practice.answer([one.meant for one in practice.round.shown]).score.right
    3
    """
    return ReadingPractice(begun(reading_drill(numbers, marks), trainee, **wishes))


def mark_reading(
    answers: str | Path,
    progress: str | Path | None = None,
    *,
    schemas: str | Path | Declarations | None = None,
) -> ReadBack:
    """Mark a sheet of answers that was filled in, as `audit.drilling.from_answers` says."""
    return ReadBack(*from_answers(reading_drill(), answers, progress, schemas))

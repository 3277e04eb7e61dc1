"""Practise to read rings and tags: numbers drawn as they look, shown for a chosen time, typed back."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

from audit.checking import declarations_of
from audit.practice.reading.reading_files import write_reading, write_round
from audit.practice.reading.reading_lesson import ReadingLesson
from audit.practice.reading.reading_page import result_piece, result_text, round_piece
from audit.practice.reading.reading_round import MARKS
from audit.practice.reading.reading_words import title
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.declarations import Declarations
    from audit.practice.reading.desk import ReadingDesk
    from audit.practice.reading.reading_round import ReadingRound
    from audit.practice.reading.reading_score import ReadingScore

__all__ = ["ReadBack", "ReadingPractice", "read_practice"]


class ReadBack:
    """A marked round: shown as a page; ``score`` holds every number."""

    def __init__(self, score: ReadingScore, advice: str, beside_others: str) -> None:
        self.score = score
        self.advice = advice
        self.beside_others = beside_others

    def __repr__(self) -> str:
        return result_text(self.score, self.advice, self.beside_others)

    def _repr_html_(self) -> str:
        return result_piece(self.score, self.advice, self.beside_others)

    def write(self, out: str | Path) -> list[Path]:
        """Write the result as ``<name>.result.html`` into a folder."""
        return write_reading(self.score, self.advice, self.beside_others, Path(out))


class ReadingPractice:
    """A trainee at the reading drill: shown as the round at hand.

    Attributes
    ----------
    lesson : ReadingLesson
        The state: the round at hand, what came of it, and what comes next.
    """

    def __init__(self, lesson: ReadingLesson) -> None:
        self.lesson = lesson

    @property
    def round(self) -> ReadingRound:
        """The round at hand, with its key."""
        return self.lesson.round

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
        score = self.lesson.answer(answers, at=_now(), seconds=seconds)
        return ReadBack(score, self.lesson.advice, self.lesson.beside_others)

    def next(self, *, level: str | int | None = None, seed: int | None = None) -> ReadingPractice:
        """Go on to the next round; signs that were mistaken come more often."""
        self.lesson.next(level=level, seed=seed)
        return self

    def desk(self) -> ReadingDesk:
        """Open a desk in a notebook: each drawing is shown for a chosen time, and typed back.

        Raises
        ------
        audit.refusal.Refusal
            The libraries of the notebook are not installed.
        """
        try:
            from audit.practice.reading.desk import ReadingDesk
        except ModuleNotFoundError as fault:
            raise Refusal(
                "The desk needs the libraries of the notebook.",
                where=str(fault.name),
                cure="pip install 'nestproof[notebook]'",
            ) from fault
        return ReadingDesk(self.lesson, _now)

    def write(self, out: str | Path, *, paper: str = "a4") -> list[Path]:
        """Write the round to print, and its key into a folder ``keys`` beside it."""
        return write_round(self.round, Path(out), paper=paper)

    def __repr__(self) -> str:
        drawn = [f"  {number:>2}  {one.says}" for number, one in enumerate(self.round.shown, 1)]
        return "\n".join([title(self.round), self.round.level.says, *drawn])

    def _repr_html_(self) -> str:
        return round_piece(self.round)


def read_practice(
    trainee: str,
    *,
    level: str | int = 1,
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
    level : int or str
        1 to 4, or its name.
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
    path = None if progress is None else Path(progress)
    return ReadingPractice(
        ReadingLesson(
            trainee,
            declarations_of(schemas),
            path=path,
            level=level,
            seed=seed,
            numbers=numbers,
            marks=marks,
        )
    )


def _now() -> str:
    return dt.datetime.now().astimezone().isoformat(timespec="seconds")

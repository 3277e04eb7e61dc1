"""A trainee at practice, without any widget: the sheet at hand, what came of it, what comes next."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from audit.practice.exercise.aids import aids_of
from audit.practice.exercise.answers import Answer, answers_in
from audit.practice.exercise.exercise import make_exercise
from audit.practice.exercise.kept import Kept
from audit.practice.exercise.levels import level_named, levels_of
from audit.practice.exercise.marking import mark_sheet
from audit.practice.exercise.overview import advice
from audit.practice.exercise.recipe import Recipe
from audit.practice.exercise.schedule import next_kinds, next_level, standings
from audit.practice.exercise.sheet_record import record_of
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

    from audit.declarations import Declarations
    from audit.practice.exercise.aids import Aid
    from audit.practice.exercise.exercise import Exercise
    from audit.practice.exercise.score import Score
    from audit.practice.exercise.sheet_record import SheetRecord

__all__ = ["Lesson", "trainee_named"]

_INITIALS = re.compile(r"\w[\w-]{0,11}")


def trainee_named(initials: str) -> str:
    """Take initials of a trainee as they are used in names of files.

    Raises
    ------
    audit.refusal.Refusal
        They are none.
    """
    plain = initials.strip()
    if not _INITIALS.fullmatch(plain):
        raise Refusal(
            f"'{initials}' are no initials.",
            where="trainee",
            cure="Name the trainee by up to twelve letters or digits, such as AB.",
        )
    return plain


class Lesson:
    """One trainee at practice.

    Attributes
    ----------
    trainee, species : str
    declared : Declarations
    path : Path or None
        The file of progress; None for practice of which nothing is kept.
    exercise : Exercise
        The sheet at hand.
    pending : dict of (label, column) to str
        What was marked so far and not handed in: what was meant, or ``?``.
    score : Score or None
        What came of it; None as long as it is not handed in.
    """

    def __init__(
        self,
        trainee: str,
        declared: Declarations,
        *,
        species: str,
        path: Path | None = None,
        level: str | int | None = None,
        seed: int | None = None,
    ) -> None:
        self.trainee = trainee_named(trainee)
        self.species = species
        self.declared = declared
        self.path = path
        self._kept: Kept[SheetRecord] = Kept(path, lambda progress: progress.of(self.trainee))
        self.pending: dict[tuple[str, str], str] = {}
        self.score: Score | None = None
        self._levels = levels_of(declared)
        self._wish = level
        self._seed = 0
        self.exercise: Exercise = self._made(seed)

    @property
    def records(self) -> tuple[SheetRecord, ...]:
        """Marked sheets of the trainee, in the order in which they were marked."""
        return self._kept.records

    @property
    def aids(self) -> tuple[Aid, ...]:
        """What helps with the sheet at hand."""
        return aids_of(self.exercise, self.declared)

    @property
    def titles(self) -> dict[str, str]:
        """Kind of slip -> how it is called."""
        return {level.slug: level.title for level in self._levels}

    @property
    def advice(self) -> str:
        """What to practise next."""
        return advice(self.records, self._levels, self.declared)

    def mark(self, marked: Mapping[tuple[int | str, str], str] | Iterable[Answer], *, at: str) -> Score:
        """Mark the sheet at hand, and keep what came of it.

        Parameters
        ----------
        marked
            As for `audit.practice.exercise.answers.answers_in`.
        at : str
            The moment, ISO 8601.

        Raises
        ------
        audit.refusal.Refusal
            The sheet has no such cell, or the file of progress cannot be written.
        """
        score = mark_sheet(self.exercise, marked, self.declared)
        self._kept.add(record_of(score, at=at))
        self.score = score
        return score

    def put(self, place: tuple[str, str], text: str) -> None:
        """Note what was meant in a cell, or ``?``; a text that stands there as typed takes the mark away.

        Raises
        ------
        audit.refusal.Refusal
            The sheet is handed in already, or has no such cell.
        """
        if self.score is not None:
            raise Refusal(
                "This sheet is handed in already.", where=self.exercise.name, cure="Go on to the next sheet."
            )
        (answer,) = answers_in(self.exercise, [Answer(place, text)])
        if answer.text == self.exercise.typed(place):
            self.pending.pop(place, None)
        else:
            self.pending[place] = answer.text

    def hand_in(self, *, at: str) -> Score:
        """Mark the sheet at hand by all that was noted; see `mark`."""
        return self.mark([Answer(place, text) for place, text in self.pending.items()], at=at)

    def next(self, *, level: str | int | None = None, seed: int | None = None) -> Exercise:
        """Go on to the next sheet: its kinds are chosen by what was missed and what is due.

        Parameters
        ----------
        level : str or int, optional
            By default that of before where one was named, else the first that is not settled.
        seed : int, optional
            By default one more than that of the sheet at hand, or than the sheets marked so far.
        """
        self._wish = self._wish if level is None else level
        self.exercise = self._made(seed)
        self.pending, self.score = {}, None
        return self.exercise

    def _made(self, seed: int | None) -> Exercise:
        records = self.records
        if self._wish is None:
            level = next_level(standings(records, self._levels, self.declared), self._levels, self.declared)
        else:
            level = level_named(self._levels, self._wish)
        self._seed = max(self._seed, len(records)) + 1 if seed is None else seed
        kinds = next_kinds(level, records, self._levels, self.declared, seed=self._seed)
        return make_exercise(
            Recipe(self.trainee, level.slug, self.species, self._seed, 0, kinds), self.declared
        )

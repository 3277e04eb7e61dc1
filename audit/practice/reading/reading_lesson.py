"""A trainee at the reading drill, without any widget: the round at hand, what came of it, what comes next."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.practice.exercise.drill_record import DrillRecord, identity_of
from audit.practice.exercise.lesson import trainee_named
from audit.practice.exercise.progress import add_record, read_progress
from audit.practice.reading.reading_levels import level_of
from audit.practice.reading.reading_round import MARKS, make_round
from audit.practice.reading.reading_score import UNREAD, mark_reading, mistaken_signs
from audit.practice.reading.reading_words import advice, beside_others

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from audit.declarations import Declarations
    from audit.practice.reading.reading_round import ReadingRound
    from audit.practice.reading.reading_score import ReadingScore

__all__ = ["DRILL", "ReadingLesson"]

#: Name of the drill in the file of progress.
DRILL = "reading"


class ReadingLesson:
    """One trainee at the reading drill.

    Attributes
    ----------
    trainee : str
    declared : Declarations
    path : Path or None
        The file of progress; None for practice of which nothing is kept.
    round : ReadingRound
        The round at hand.
    score : ReadingScore or None
        What came of it; None as long as it is not handed in.
    """

    def __init__(
        self,
        trainee: str,
        declared: Declarations,
        *,
        path: Path | None = None,
        level: str | int = 1,
        seed: int | None = None,
        numbers: int | None = None,
        marks: Sequence[str] = tuple(MARKS),
    ) -> None:
        self.trainee = trainee_named(trainee)
        self.declared = declared
        self.path = path
        self.score: ReadingScore | None = None
        self._level, self._numbers, self._marks = level_of(declared, level), numbers, tuple(marks)
        self._own: list[DrillRecord] = []
        self._seed = 0
        self.round: ReadingRound = self._made(seed)

    @property
    def records(self) -> tuple[DrillRecord, ...]:
        """Rounds of the trainee, in the order in which they were handed in."""
        if self.path is not None:
            return read_progress(self.path).drills_of(self.trainee, DRILL)
        return tuple({record.sheet: record for record in reversed(self._own)}.values())[::-1]

    @property
    def advice(self) -> str:
        """What to practise, after a round."""
        return "" if self.score is None else advice(self.score)

    @property
    def beside_others(self) -> str:
        """All that was misread so far, beside what others published."""
        return beside_others(self.records, self.declared)

    def answer(
        self, answers: Sequence[str], *, at: str, seconds: Sequence[float] | None = None
    ) -> ReadingScore:
        """Mark the round at hand, and keep what came of it; of the same round the first time counts.

        Parameters
        ----------
        answers, seconds
            As for `audit.practice.reading.reading_score.mark_reading`.
        at : str
            The moment, ISO 8601.

        Raises
        ------
        audit.refusal.Refusal
            There are not as many answers as numbers, or the file of progress cannot be written.
        """
        score = mark_reading(self.round, answers, self.declared, seconds=seconds)
        record = _record(score, at)
        if self.path is not None:
            add_record(self.path, record)
        else:
            self._own.append(record)
        self.score = score
        return score

    def next(self, *, level: str | int | None = None, seed: int | None = None) -> ReadingRound:
        """Go on to the next round: signs that were mistaken come more often."""
        if level is not None:
            self._level = level_of(self.declared, level)
        self.round, self.score = self._made(seed), None
        return self.round

    def _made(self, seed: int | None) -> ReadingRound:
        records = self.records
        self._seed = max(self._seed, len(records)) + 1 if seed is None else seed
        pairs: dict[str, int] = {}
        for record in records:
            for pair, times in record.counts.get("signs", {}).items():
                pairs[pair] = pairs.get(pair, 0) + times
        return make_round(
            self.trainee,
            self._level,
            self._seed,
            self.declared,
            numbers=self._numbers,
            marks=self._marks,
            mistaken=mistaken_signs(pairs),
        )


def _record(score: ReadingScore, at: str) -> DrillRecord:
    round_ = score.round
    return DrillRecord(
        identity=identity_of(round_.name, [one.shown.meant + ">" + one.typed for one in score.read]),
        at=at,
        who=round_.trainee,
        drill=DRILL,
        sheet=round_.name,
        level=round_.level.slug,
        asked=len(score.read),
        right=score.right,
        counts={
            "answers": {UNREAD: score.unread},
            "slips": score.kinds,
            "signs": {">".join(pair): times for pair, times in score.taken.items()},
            "read": {"signs": score.signs.trials, "wrong": score.signs.hits},
        },
    )

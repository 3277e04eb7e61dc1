"""The reading drill as a whole: how its rounds are made, marked, kept, shown and written."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from audit.practice.drill.answer_sheet import AnswerSheet
from audit.practice.drill.drill import Drill
from audit.practice.drill.level import level_named
from audit.practice.exercise.drill_record import DrillRecord, identity_of
from audit.practice.reading.reading_levels import reading_levels
from audit.practice.reading.reading_page import key_paper, result_paper, round_paper
from audit.practice.reading.reading_print import print_round
from audit.practice.reading.reading_round import DRILL, MARKS, make_round, round_of_code
from audit.practice.reading.reading_score import UNREAD, mark_reading, mistaken_signs
from audit.practice.reading.reading_words import beside_others

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from audit.declarations import Declarations
    from audit.practice.drill.paper import Paper
    from audit.practice.reading.reading_round import ReadingRound
    from audit.practice.reading.reading_score import ReadingScore

    #: What was typed, and how long each took where that is known.
    Typed = tuple[Sequence[str], Sequence[float] | None]

__all__ = ["reading_drill"]


def reading_drill(
    numbers: int | None = None, marks: Sequence[str] = tuple(MARKS)
) -> Drill[ReadingRound, Typed, ReadingScore]:
    """Make the drill: so many numbers in a round, by default as declared, of these kinds of marks."""
    return Drill(
        name=DRILL,
        levels=reading_levels,
        make=partial(_made, numbers=numbers, marks=tuple(marks)),
        mark=_marked,
        record=_record,
        sheet=lambda made, _: round_paper(made),
        key=lambda made, _: key_paper(made),
        result=_result,
        answers=AnswerSheet(
            drill=DRILL,
            head=("number", "answer"),
            what="each number as you read it, or ? where you could not,",
            questions=lambda made: [str(place) for place in range(1, len(made.shown) + 1)],
            again=round_of_code,
            taken=lambda _, rows: ([row[0] for row in rows], None),
        ),
        prints=_prints,
    )


def _made(
    trainee: str,
    number: int,
    level: str,
    records: Sequence[DrillRecord],
    declared: Declarations,
    *,
    numbers: int | None,
    marks: Sequence[str],
) -> ReadingRound:
    pairs: dict[str, int] = {}
    for record in records:
        for pair, times in record.counts.get("signs", {}).items():
            pairs[pair] = pairs.get(pair, 0) + times
    return make_round(
        trainee,
        level_named(reading_levels(declared), level, DRILL),
        number,
        declared,
        numbers=numbers,
        marks=marks,
        mistaken=mistaken_signs(pairs),
    )


def _marked(made: ReadingRound, typed: Typed, declared: Declarations) -> ReadingScore:
    answers, seconds = typed
    return mark_reading(made, answers, declared, seconds=seconds)


def _result(score: ReadingScore, records: Sequence[DrillRecord], declared: Declarations) -> Paper:
    return result_paper(score, beside_others(records, declared))


def _prints(made: ReadingRound, paper: str) -> Mapping[str, bytes]:
    ends = ((".pdf", False), (".key.pdf", True))
    return {end: print_round(made, paper=paper, key=key) for end, key in ends}


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

"""The weighing drill as a whole: how its rounds are made, marked, kept, shown and written."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from audit.practice.drill.answer_sheet import AnswerSheet
from audit.practice.drill.drill import Drill
from audit.practice.weighing_drill.levels import mix_for, weighing_levels
from audit.practice.weighing_drill.marking import MarkedRound, mark_round, record_of
from audit.practice.weighing_drill.page import key_paper, result_paper, round_paper
from audit.practice.weighing_drill.round import Round, make_round, round_of_code
from audit.practice.weighing_drill.weighing import CELLS, DRILL

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from audit.declarations import Declarations
    from audit.practice.exercise.drill_record import DrillRecord

    #: Of each weighing what was written, by cell.
    Written = Sequence[Mapping[str, str]]

__all__ = ["weighing_drill"]


def weighing_drill(species: str = "barn_owl") -> Drill[Round, Written, MarkedRound]:
    """Make the drill for masses of a species."""
    return Drill(
        name=DRILL,
        levels=weighing_levels,
        make=partial(_made, species=species),
        mark=mark_round,
        record=lambda marked, at: record_of(marked, at=at),
        sheet=lambda made, _: round_paper(made),
        key=lambda made, _: key_paper(made),
        result=lambda marked, *_: result_paper(marked),
        answers=AnswerSheet(
            drill=DRILL,
            head=("weighing", *(f"{cell}_g" for cell in CELLS)),
            what="gross, bag and net of each weighing",
            questions=lambda made: [str(place) for place in range(1, len(made.weighings) + 1)],
            again=round_of_code,
            taken=_taken,
        ),
    )


def _made(
    trainee: str,
    number: int,
    level: str,
    records: Sequence[DrillRecord],
    declared: Declarations,
    *,
    species: str,
) -> Round:
    return make_round(trainee, number, species, level, mix_for(level, records, declared), declared)


def _taken(_: Round, rows: Sequence[Sequence[str]]) -> Written:
    return [dict(zip(CELLS, row, strict=True)) for row in rows]

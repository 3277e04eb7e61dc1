"""The ageing drill as a whole: how its rounds are made, marked, kept, shown and written."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from audit.practice.ageing.levels import DRILL, AgeingLevel, ageing_levels
from audit.practice.ageing.marking import MarkedAges, mark_ages, record_of
from audit.practice.ageing.page import key_paper, result_paper, round_paper
from audit.practice.ageing.round import STAGES, AgeingRound, clue_for, make_round, round_of_code
from audit.practice.drill.answer_sheet import AnswerSheet
from audit.practice.drill.drill import Drill
from audit.practice.drill.level import level_named
from audit.practice.drill.mix import next_mix

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.declarations import Declarations
    from audit.practice.exercise.drill_record import DrillRecord

    #: Ages of the nestlings, and verdicts on the broods.
    Told = tuple[Sequence[str], Sequence[str]]

__all__ = ["ageing_drill", "mix_for"]


def ageing_drill(species: str = "barn_owl") -> Drill[AgeingRound, Told, MarkedAges]:
    """Make the drill for nestlings of a species."""
    return Drill(
        name=DRILL,
        levels=partial(_levels, species=species),
        make=partial(_made, species=species),
        mark=lambda made, told, declared: mark_ages(made, *told, declared),
        record=lambda marked, at: record_of(marked, at=at),
        sheet=round_paper,
        key=key_paper,
        result=lambda marked, _, declared: result_paper(marked, declared),
        answers=AnswerSheet(
            drill=DRILL,
            head=("question", "answer"),
            what="an age or an answer for each line",
            questions=_questions,
            again=round_of_code,
            taken=_taken,
        ),
        why_not=partial(_why_not, species=species),
    )


def mix_for(slug: str, records: Sequence[DrillRecord], declared: Declarations) -> tuple[int, ...]:
    """Divide the nestlings of the next round of a level among young, middling and old."""
    level = level_named(ageing_levels(declared), slug, DRILL)
    memory = int(declared.settings["practice.ageing.memory"].value)
    mix = next_mix(STAGES, "stages", records, questions=level.nestlings, memory=memory)
    return tuple(mix[stage] for stage in STAGES)


def _levels(declared: Declarations, *, species: str) -> tuple[AgeingLevel, ...]:
    """List the levels of a species.

    One that is aged by mass has no broods to ask, so of the levels with broods only the first is left;
    feathers alone are asked where they are declared.
    """
    levels = ageing_levels(declared)
    is_wing, plumages = clue_for(species, declared).is_wing, declared.species[species].plumages
    return tuple(one for one in levels if (plumages if one.unmeasured else is_wing or one is levels[0]))


def _why_not(declared: Declarations, *, species: str) -> str:
    reasons = []
    if not clue_for(species, declared).is_wing:
        reasons.append("no curve of its wing tells broods within the days of ringing")
    if not declared.species[species].plumages:
        reasons.append("no states of its feathers are declared")
    return f" for '{species}', since {', and '.join(reasons)}" if reasons else ""


def _made(
    trainee: str,
    number: int,
    level: str,
    records: Sequence[DrillRecord],
    declared: Declarations,
    *,
    species: str,
) -> AgeingRound:
    return make_round(trainee, number, species, level, mix_for(level, records, declared), declared)


def _questions(made: AgeingRound) -> list[str]:
    birds = [f"nestling {number}" for number in range(1, len(made.nestlings) + 1)]
    return birds + [f"brood {number}" for number in range(1, len(made.broods) + 1)]


def _taken(made: AgeingRound, rows: Sequence[Sequence[str]]) -> Told:
    answers = [row[0] for row in rows]
    return answers[: len(made.nestlings)], answers[len(made.nestlings) :]

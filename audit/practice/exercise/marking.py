"""A practice sheet marked: each answer held against the key, by what it means."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.intake.amending import amend
from audit.practice.exercise.answers import answers_in
from audit.practice.exercise.score import CellScore, Score, SlipScore
from audit.review.cell_meanings import meanings_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from audit.declarations import Declarations
    from audit.practice.exercise.answers import Answer
    from audit.practice.exercise.exercise import Exercise, Planted
    from audit.practice.exercise.score import Outcome
    from audit.season import Season

    Place = tuple[str, str]

__all__ = ["mark_sheet", "means_the_same"]


def mark_sheet(
    exercise: Exercise, marked: Mapping[tuple[int | str, str], str] | Iterable[Answer], declared: Declarations
) -> Score:
    """Mark a practice sheet.

    Parameters
    ----------
    marked
        As for `audit.practice.exercise.answers.answers_in`.

    Returns
    -------
    Score
        Every cell with a slip and every marked cell has one outcome; the order of the answers does not
        matter, and none of them changes how another is read.

    Raises
    ------
    audit.refusal.Refusal
        The sheet has no such line or column.
    """
    answers = answers_in(exercise, marked)
    idle = tuple(
        answer
        for answer in answers
        if answer.text
        and not answer.asks
        and means_the_same(exercise.season, answer, exercise.season, declared)
    )
    counted = {answer.place: answer for answer in answers if answer not in idle}
    slips = tuple(
        _slip(exercise, one, counted, declared)
        for one in sorted(exercise.planted, key=lambda one: exercise.line(one.slip.changes[0].label))
    )
    missed = {label for slip in slips if not slip.found for label in slip.planted.slip.labels}
    marks = tuple(
        CellScore(place, _innocent(exercise, answer, missed), answer)
        for place, answer in counted.items()
        if place not in exercise.changes
    )
    return Score(exercise, slips, marks, idle)


def _slip(
    exercise: Exercise, one: Planted, answers: Mapping[Place, Answer], declared: Declarations
) -> SlipScore:
    cells = tuple(
        CellScore(
            change.place, _wrong(exercise, one, change.place, answers, declared), answers.get(change.place)
        )
        for change in one.slip.changes
    )
    near = all(cell.outcome == "missed" for cell in cells) and any(
        label in one.slip.labels for label, _ in answers.keys() - exercise.changes.keys()
    )
    return SlipScore(one, cells, near, exercise.said([change.place for change in one.slip.changes]))


def _wrong(
    exercise: Exercise,
    one: Planted,
    place: Place,
    answers: Mapping[Place, Answer],
    declared: Declarations,
) -> Outcome:
    answer = answers.get(place)
    if answer is None:
        # what was carried on from a cell that was asked about is looked up with it
        own = [answers[change.place] for change in one.slip.changes if change.place in answers]
        return "asked" if one.is_hidden and any(other.asks for other in own) else "missed"
    if answer.asks:
        return "seen" if exercise.is_told(place) else "asked"
    # where nothing tells what was meant, the right value is a lucky guess
    is_right = bool(answer.text) and means_the_same(exercise.season, answer, exercise.clean, declared)
    return "mended" if is_right and not one.is_hidden else "seen"


def _innocent(exercise: Exercise, answer: Answer, missed: set[str]) -> Outcome:
    if answer.asks:
        return "asked_right" if answer.place in exercise.doubtful else "unneeded"
    return "near" if answer.place[0] in missed else "blamed"


def means_the_same(season: Season, answer: Answer, other: Season, declared: Declarations) -> bool:
    """Whether a text, typed into a cell of a season, means what stands in that cell of another season.

    Parameters
    ----------
    season, other : Season
        With the same rows and columns.
    """
    label, field = answer.place
    amended = amend(season, declared, label, field, answer.text)
    row = amended.frame("handlings").index.get_loc(label)
    for column in meanings_of(amended, other, "handlings", declared):
        if column.field == field:
            return column.first[row] == column.second[row]
    return False

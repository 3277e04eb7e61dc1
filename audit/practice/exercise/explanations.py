"""What was wrong on a practice sheet, what the audit says of it, and why to ask where it sees nothing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.practice.exercise.words import heading
from audit.practice.kinds import KINDS
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.practice.exercise.exercise import Exercise, Planted
    from audit.practice.exercise.score import CellScore, Score, SlipScore

__all__ = [
    "Explained",
    "cell_words",
    "explain_marks",
    "explain_slip",
    "headline",
    "outcome_words",
    "right_words",
    "slip_words",
]


@dataclass(frozen=True, slots=True)
class Explained:
    """A slip in words.

    Attributes
    ----------
    what : str
        What happened.
    cells : tuple of str
        Each cell: line, column, what stands there and what was meant.
    audit : tuple of str
        What the audit says of it, one sentence each; none where it sees nothing.
    ask : str
        Why to ask is right; empty where the page tells what was meant.
    """

    what: str
    cells: tuple[str, ...]
    audit: tuple[str, ...]
    ask: str


def explain_slip(exercise: Exercise, planted: Planted) -> Explained:
    """Put a slip into words: what happened, and what the audit makes of it."""
    slip = planted.slip
    says = next(one.says for one in KINDS if one.name == slip.kind and slip.field in one.fields)
    places = [change.place for change in slip.changes]
    told = tuple(dict.fromkeys(finding.message for finding in exercise.said(places)))
    return Explained(
        f"{heading(slip.field).capitalize()}: {says}.",
        tuple(cell_words(exercise, place) for place in places),
        told,
        _why_ask(exercise, planted),
    )


def _why_ask(exercise: Exercise, planted: Planted) -> str:
    if planted.is_hidden:
        return (
            "The audit sees nothing here, and nobody could: what stands there fits all else on the page, "
            "and so would many other values. Only the remark says that it was hard to read. So to ask the "
            "field notebook is right; a guess would put one number that nobody knows in the place of another."
        )
    if not all(exercise.is_told(change.place) for change in planted.slip.changes):
        return (
            "The page shows that something is wrong, but not for sure what was meant: several values would "
            "fit. So to ask the field notebook is right."
        )
    return ""


def cell_words(exercise: Exercise, place: tuple[str, str]) -> str:
    """Say what stands in a cell with a slip, and what was meant."""
    label, field = place
    line = f"line {exercise.line(label)}, {heading(field)}"
    return f"{line}: {exercise.typed(place)} stands there, {exercise.meant(place)} was meant"


def outcome_words(exercise: Exercise, cell: CellScore) -> str:
    """Say what the trainee made of a cell with a slip in it."""
    meant = exercise.meant(cell.place)
    if cell.outcome == "mended":
        return "You put it right."
    if cell.outcome == "asked" and cell.answer is None:
        return "It follows from the cell that you asked about."
    if cell.outcome == "asked":
        return "You asked, and to ask is right here."
    if cell.answer is None:
        return "You did not mark it."
    if cell.answer.asks:
        return f"You asked, but the page tells what was meant: {meant}."
    if not cell.answer.text:
        return "You marked it, but named no value."
    planted = next(one for one in exercise.planted if cell.place in [c.place for c in one.slip.changes])
    if planted.is_hidden:
        return f"You wrote {cell.answer.text}; the page cannot tell that, so even the right value is a guess."
    return f"You marked it and wrote {cell.answer.text}; what was meant is {meant}."


def slip_words(slip: SlipScore) -> str:
    """Say in a word or two what became of a slip."""
    if slip.whole:
        return "rightly asked about" if slip.asked else "mended"
    if slip.found:
        return "found, not mended"
    return "missed, though you marked another cell of its line" if slip.near else "missed"


def explain_marks(score: Score) -> tuple[str, ...]:
    """Put the marked cells without a slip into words, in the order of the sheet."""
    return tuple(_marks(score))


def _marks(score: Score) -> Iterator[str]:
    exercise = score.exercise
    for cell in score.marks:
        label, field = cell.place
        answer = cell.answer.text if cell.answer else ""
        where = f"Line {exercise.line(label)}, {heading(field)}"
        typed = exercise.typed(cell.place) or "(nothing)"
        if cell.outcome == "asked_right":
            yield f"{where}: {typed} was right, but the remark calls it into doubt. To ask was right."
        elif cell.outcome == "unneeded":
            yield f"{where}: {typed} is right, and nothing speaks against it. You asked without need."
        else:
            near = " The slip of this line stands in another cell." if cell.outcome == "near" else ""
            yield f"{where}: {typed} is right as it stands; you wrote {answer or '(nothing)'}.{near}"
    for idle in score.idle:
        where = f"Line {exercise.line(idle.place[0])}, {heading(idle.place[1])}"
        yield f"{where}: {idle.text} is what stands there already, so it counts as no mark."


def right_words(exercise: Exercise) -> str:
    """Say of a sheet without a slip that it holds none."""
    return "" if exercise.planted else "There is no slip on this page: the right answer is to mark nothing."


def headline(score: Score) -> str:
    """Sum up a marked sheet in a sentence or two."""
    number = len(score.slips)
    blamed, unneeded = score.blamed, score.counts["unneeded"]
    if number:
        found, whole = (sum(getattr(slip, name) for slip in score.slips) for name in ("found", "whole"))
        slips = "slip" if number == 1 else "slips"
        told = f"{found} of {number} {slips} found, {whole} mended or rightly asked about."
    else:
        told = "There was no slip on this page."
    innocent = counted(blamed, "innocent cell") if blamed else "No innocent cell"
    told += f" {innocent} {'were' if blamed > 1 else 'was'} changed."
    return f"{told} {unneeded} asked about without need." if unneeded else told

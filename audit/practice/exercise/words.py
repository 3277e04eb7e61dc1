"""What a practice sheet says to somebody who has never held a bird."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.review.wording import counted

if TYPE_CHECKING:
    from audit.practice.exercise.exercise import Exercise

__all__ = [
    "CAUTION",
    "HOW_TO",
    "MEANINGS",
    "UNITS",
    "WHY",
    "heading",
    "lead",
    "title",
]

#: What each column means, in plain words.
MEANINGS = {
    "date": "the day of the visit, as year-month-day",
    "time": "when the bird was in the hand",
    "box": "the label of the nest box",
    "species": "what kind of bird it is",
    "ring": (
        "the number stamped on the metal ring on the bird's leg; no two birds bear the same one, and rings "
        "are put on in the order of their numbers"
    ),
    "tag": (
        "the number of the transponder tag, a chip without a battery that answers a hand reader with 15 "
        "digits; no two tags bear the same one"
    ),
    "gross_g": "what the balance shows for the bird in its bag, in grams",
    "bag_g": "what the empty bag weighs, in grams; it hardly changes within a day",
    "net_g": "what the bird alone weighs, in grams: gross less bag",
    "wing_mm": (
        "the length of the closed wing from its bend to the tip of the longest feather, in millimetres; in "
        "young birds it grows from day to day"
    ),
    "brood_size": "how many live young were in the box that day; each of them has a line",
    "ringer": "initials of who ringed",
    "remarks": "anything else that was noted",
}

#: Column -> unit, for headings.
UNITS = {"gross_g": "g", "bag_g": "g", "net_g": "g", "wing_mm": "mm"}

WHY = (
    "Young birds in nest boxes are ringed, tagged, weighed and measured. What was found is written on a "
    "field sheet and typed later, and hands slip. Look for what cannot be right on this page. It is "
    "invented from the first line to the last."
)

HOW_TO = (
    (
        "Each line is one bird in the hand at one visit. Read down the columns and along the lines: "
        "neighbours, sums and the order of numbers tell much."
    ),
    (
        "Mark a cell that is wrong, and say what was meant: in the workbook type it over what stands there, "
        "on paper circle the cell and write it below. An example: gross 402, bag 25, net 402. Somebody "
        "forgot to take off the bag; net is marked, and 377 was meant."
    ),
    (
        "Where the page shows that something is wrong but not what was meant, or a remark says that it was "
        "hard to read, write ? instead: it must be looked up in the field notebook. Do not guess."
    ),
    "Leave alone what may be right. To change an innocent cell makes one more error.",
)

CAUTION = (
    "This is an exercise on paper; no bird was handled for it. Birds are handled by holders of a licence and "
    "by those whom they train: your licence, your ringing scheme and local law come before anything said "
    "here. Keep each bird in the hand for as short a time as the work needs, not in cold, wet or great heat, "
    "and stop at once when it shows distress."
)


def heading(field: str) -> str:
    """Name a column as it stands on the sheet: ``net (g)``.

    Examples
    --------
    >>> heading("net_g"), heading("brood_size"), heading("ring")
    ('net (g)', 'brood size', 'ring')
    """
    unit = UNITS.get(field, "")
    plain = field.removesuffix(f"_{unit}").replace("_", " ")
    return f"{plain} ({unit})" if unit else plain


def title(exercise: Exercise) -> str:
    """Title of the sheet."""
    level = exercise.level
    return f"Practice sheet {exercise.recipe.seed} for {exercise.recipe.trainee}: {level.title.lower()}"


def lead(exercise: Exercise) -> str:
    """Say what stands before the trainee."""
    level, birds = exercise.level, counted(len(exercise.labels), "line")
    said = f"Level {level.number}, {birds}. {level.says}"
    if "how_many" in level.aids:
        number = len(exercise.planted)
        said += f" There {'is' if number == 1 else 'are'} {counted(number, 'slip')} on this page."
    elif not exercise.planted or level.slips[0] != level.slips[1]:
        said += " There may be several slips on this page, or none at all."
    return said

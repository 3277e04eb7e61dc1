"""What the weighing drill says."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.practice.weighing_drill.weighing import CELLS

if TYPE_CHECKING:
    from audit.practice.weighing_drill.classing import Verdict
    from audit.practice.weighing_drill.round import Round
    from audit.practice.weighing_drill.weighing import Weighing

__all__ = [
    "CAUTIONS",
    "HEADS",
    "KINDS",
    "LEAD",
    "PRACTISE",
    "WAYS_SAID",
    "answer_words",
    "how_to",
    "level_words",
    "title",
    "verdict_words",
    "way_words",
]

LEAD = (
    "A bird is weighed in a bag. Gross is the bird and its bag together, bag is the empty bag alone, and net "
    "is the bird alone: net is gross less bag. 395 g gross less a bag of 22 g is 373 g net."
)
_HAND = (
    "Where gross and bag are written down already, write them once more and subtract by hand. Then add the "
    "bag to your net again: gross must come out."
)
_LOOK = (
    "Where balances are drawn, look at both pictures. The first shows the balance with the bird in its bag, "
    "the second the same or a smaller one with the empty bag."
)
_DISPLAY = "On a display read all digits, and mind the point where there is one."
_SPRING = (
    "On a spring balance nought is at the top and the numbers rise downwards. Find out first what one mark "
    "is worth: see how far the next two numbers lie apart, and count the marks between them. Then read "
    "where the line of the pointer stands, to the nearest mark or better."
)
_TARE = (
    "Look for the word TARE on a display. If it is lit, the balance was set to nought with the empty bag on "
    "it, so that it shows the bird alone: this is net, and gross is net and bag together."
)
_OPEN = (
    "Where the empty bag was not weighed, nobody knows its mass. Write ? for each mass that cannot be known, "
    "and never take the bag of another bird: bags differ, and get wet and dirty."
)
_WRITE = "Write gross, bag and net of each weighing in grams, and only then look at the next one."
#: What to do -> ways of weighing for which it must be said.
_STEPS = {
    _HAND: ("written",),
    _LOOK: ("spring", "display", "mixed", "tared", "no_bag", "tared_no_bag"),
    _DISPLAY: ("display", "mixed", "tared"),
    _SPRING: ("spring", "mixed", "no_bag"),
    _TARE: ("tared", "tared_no_bag"),
    _OPEN: ("no_bag", "tared_no_bag"),
}

_LICENCE = (
    "Practise with pictures, or with stones in a bag, and not on living birds. Whoever weighs birds needs "
    "the licence for it; the licence, the ringing scheme and local law come before anything said here."
)
_CALM = (
    "A bird hangs in the bag only as long as one reading takes. Do not weigh in cold, wind or rain, keep the "
    "bird dark and quiet, never leave a hanging bag alone, and put the bird back at the first sign of "
    "distress."
)
CAUTIONS = (_LICENCE, _CALM)
HEADS = {"gross": "gross, g", "bag": "bag, g", "net": "net, g"}
WAYS_SAID = {
    "spring": "both on spring balances",
    "display": "both on a display",
    "mixed": "bird on a spring balance, bag on a display",
    "tared": "on a display set to nought with the bag on it",
    "written": "gross and bag written down, subtracted by hand",
    "no_bag": "on a spring balance, the empty bag not weighed",
    "tared_no_bag": "on a display set to nought with the bag on it, the empty bag not weighed",
}
KINDS = {
    "right": "right",
    "carried": "rightly subtracted, but from a wrong gross or bag",
    "open": "rightly left open, since the bag was not weighed",
    "guessed": "a mass was written that nobody weighed",
    "asked": "left open, though it can be known here",
    "by_a_mark": "the pointer was misread by one mark",
    "by_a_number": "the pointer was read from the wrong number of the scale",
    "wrong_scale": "the marks were taken for marks of another worth",
    "tare_unseen": "the display was tared, so it shows net, which was written as gross",
    "not_subtracted": "the bag was not subtracted",
    "subtracted_twice": "the bag was subtracted twice",
    "added": "the bag was added instead of subtracted",
    "exchanged": "two numbers stand in each other's place",
    "neighbours": "two digits have changed places",
    "digit": "one digit is wrong",
    "tenfold": "the number is ten times too large or too small",
    "kilograms": "the number is in kilograms",
    "borrow": "the subtraction is one, ten or a hundred too high or too low",
    "sum_wrong": "the subtraction is wrong",
    "missing": "nothing was written",
    "not_a_number": "what was written is not a number",
    "unknown": "the reading is wrong, and no slip that we know accounts for it",
}
PRACTISE = {
    "by_a_mark": "read the pointer at eye level and count the marks from the nearest number twice",
    "by_a_number": "name the number just above the pointer before you count marks",
    "wrong_scale": "work out what one mark is worth before each reading: balances differ",
    "tare_unseen": "look for the word TARE before you write what a display shows",
    "not_subtracted": "write gross and bag first, and net only after you have subtracted",
    "subtracted_twice": "subtract the bag once only, and not at all where the display was tared",
    "added": "ask of each net whether it is lighter than gross: it must be",
    "exchanged": "say the name of the column aloud as you write into it",
    "neighbours": "say each number digit by digit as you write it, and read it back",
    "digit": "read each number back from the page and look at the balance again",
    "tenfold": "ask of each mass whether a bird can weigh that much",
    "kilograms": "write grams only",
    "borrow": "check each net by adding the bag again: gross must come out",
    "sum_wrong": "check each net by adding the bag again: gross must come out",
    "guessed": "write ? for a mass that nobody weighed, and weigh each empty bag in the field",
    "asked": "work out the third mass wherever two of the three are known",
    "missing": "leave no cell empty: with two of the three masses the third can be worked out, and where it "
    "cannot, write ?",
    "not_a_number": "write plain numbers in grams",
    "unknown": "read each balance twice, and write only what you have read twice",
}


def title(made: Round) -> str:
    """Name a round."""
    return f"Weighing drill {made.number} for {made.trainee}: {made.level.title.lower()}"


def level_words(made: Round) -> str:
    """Say what comes in a round."""
    return f"Level {made.level.number}, {len(made.weighings)} weighings. {made.level.says}"


def how_to(made: Round) -> tuple[str, ...]:
    """Say what to do, as far as it is needed for a round."""
    return (*(step for step, ways in _STEPS.items() if set(ways) & set(made.ways)), _WRITE)


def way_words(weighing: Weighing) -> tuple[str, str]:
    """Say what the two pictures show."""
    if weighing.known != CELLS:
        tared = ", after taring" if weighing.is_tared else ""
        return f"with the bird in its bag{tared}", "the empty bag was not weighed"
    if weighing.is_tared:
        return "with the bird in its bag, after taring", "the empty bag, before taring"
    return "with the bird in its bag", "the empty bag"


def answer_words(weighing: Weighing) -> str:
    """Say what should have been written, and why."""
    gross, bag, net = (f"{grams:g}" for grams in (weighing.gross, weighing.bag, weighing.net))
    if weighing.known == ("gross",):
        return f"Gross is {gross} g. The bag was not weighed, so that nobody knows bag and net: write ?."
    if weighing.known == ("net",):
        told = f"The tared display shows net, {net} g."
        return f"{told} The bag was not weighed, so that nobody knows bag and gross: write ?."
    if weighing.is_tared:
        return f"The tared display shows net, {net} g. With the bag of {bag} g, gross is {gross} g."
    return f"{gross} g gross less a bag of {bag} g is {net} g net."


def verdict_words(verdict: Verdict) -> str:
    """Say what came of one cell."""
    told = KINDS[verdict.kind]
    if verdict.also:
        told += f", or {KINDS[verdict.also]}"
    written = f" '{verdict.written}'" if verdict.written else ""
    return f"{verdict.cell}{written}: {told}"

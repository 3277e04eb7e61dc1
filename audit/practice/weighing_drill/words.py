"""What the weighing drill says."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from audit.practice.weighing_drill.classing import Verdict
    from audit.practice.weighing_drill.round import Round
    from audit.practice.weighing_drill.weighing import Weighing

__all__ = [
    "CAUTIONS",
    "HEADS",
    "HOW_TO",
    "KINDS",
    "LEAD",
    "PRACTISE",
    "WAYS_SAID",
    "answer_words",
    "title",
    "verdict_words",
    "way_words",
]

LEAD = (
    "A bird is weighed in a bag. Gross is the bird and its bag together, bag is the empty bag alone, and net "
    "is the bird alone: net is gross less bag. 395 g gross less a bag of 22 g is 373 g net."
)
_LOOK = (
    "Look at the two pictures of each weighing. The first shows the balance with the bird in its bag, the "
    "second the empty bag."
)
_SPRING = (
    "On a spring balance nought is at the top and the numbers rise downwards. Find out first what one mark "
    "is worth: see how far the next two numbers lie apart, and count the marks between them. Then read "
    "where the line of the pointer stands, to the nearest mark or better."
)
_DISPLAY = (
    "On a display read all digits, and look for the word TARE. If it is lit, the balance was set to nought "
    "with the empty bag on it, so that it shows the bird alone: this is net, and gross is net and bag "
    "together."
)
_WRITE = "Write gross, bag and net of each weighing in grams, and only then look at the next one."
HOW_TO = (_LOOK, _SPRING, _DISPLAY, _WRITE)

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
}
KINDS = {
    "right": "right",
    "carried": "the sum is right, but it carries a wrong gross or bag",
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
    "borrow": "the sum is one, ten or a hundred steps of its last digit off",
    "sum_wrong": "the sum is wrong",
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
    "missing": "leave no cell empty: with two of the three masses the third can be worked out",
    "not_a_number": "write plain numbers in grams",
    "unknown": "read each balance twice, and write only what you have read twice",
}


def title(made: Round) -> str:
    """Name a round."""
    return f"Weighing drill {made.number} of {made.trainee}"


def way_words(weighing: Weighing) -> tuple[str, str]:
    """Say what the two pictures show."""
    if weighing.is_tared:
        return "with the bird in its bag, after taring", "the empty bag, before taring"
    return "with the bird in its bag", "the empty bag"


def answer_words(weighing: Weighing) -> str:
    """Say what should have been written, and why."""
    gross, bag, net = (f"{grams:g}" for grams in (weighing.gross, weighing.bag, weighing.net))
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

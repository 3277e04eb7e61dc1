"""What the ageing drill says."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.practice.ageing.brood import CLOSE
from audit.practice.ageing.clue import clues_of
from audit.practice.ageing.plumage import plumage_ages
from audit.practice.drill.share_words import percent_of

if TYPE_CHECKING:
    from audit.declarations import Declarations
    from audit.practice.ageing.brood import Brood
    from audit.practice.ageing.nestling import Nestling
    from audit.practice.ageing.round import AgeingRound

__all__ = [
    "age_words",
    "brood_words",
    "cautions",
    "clue_words",
    "how_far",
    "how_to",
    "lead",
    "look_words",
    "plumage_rows",
    "plumage_sources",
    "size_words",
    "title",
    "window_words",
]

_WING = (
    "The wing of a nestling tells its age better than its mass does, since a hungry bird still grows its "
    "wing. It is measured folded, from the bend to the tip of the longest feather, flattened and "
    "straightened."
)
_MASS = (
    "No curve of the wing is declared for this species, so its nestlings are aged by net mass here. Mass "
    "tells age less surely than a wing does: a hungry bird is light for its age, and from half way on birds "
    "of all ages weigh much the same. Nothing is asked about broods, since mass cannot tell whether one is "
    "within the days of ringing."
)
_TOO_FEW = "The declared days of ringing are too few for a wing to tell, so nothing is asked about broods."
_BROOD = (
    "A brood is all young of one nest. Young are ringed when they are old enough to keep warm by themselves, "
    "and not so old that they may leave too early: these are the days of ringing. A brood is within them "
    "when its youngest bird is surely old enough and its oldest surely not too old, so age the smallest and "
    "the largest wing first: they decide."
)
_FEATHERS = (
    "Then hold the feathers against the second table. Where they and the size of a bird tell ages far apart, "
    "one of them was misread or mistyped: in the field, measure again."
)
_ALONE = (
    "Some nestlings are not measured. Find their feathers in the second table and write an age between its "
    "days; the middle is the best guess. Any age at which such feathers can be seen is right."
)
_CLOSE = (
    "Where the first or last day of ringing lies inside the interval of the bird that decides, its wing "
    "cannot tell: answer 'too close'. In the field this means to leave the brood, ask your trainer, and come "
    "again if the licence allows it."
)
_HANDLING = (
    "Practise on paper. Nobody opens a nest box or holds a nestling without the licence for it, and no bird "
    "is held longer to guess its age: measure, ring, and put it back. Do not visit in cold, wind or rain, "
    "keep the young warm and dark, and stop at the first sign of distress."
)
_LICENCE = (
    "Whether a brood may be ringed is for the licence and the ringing scheme to say, not for this page."
)


_GRADES = {
    "read": "This was read in a source.",
    "computed": "This was computed.",
    "common practice": "This is common practice.",
    "memory": "This is from memory: ask your trainer.",
}


def title(made: AgeingRound) -> str:
    """Name a round."""
    name = made.level.title if made.broods or made.level.unmeasured else "Single birds"
    return f"Ageing drill {made.number} for {made.trainee}: {name.lower()}"


def lead(made: AgeingRound, declared: Declarations) -> str:
    """Say what is asked."""
    species = declared.species[made.species].english
    told = f"How old is each nestling, in days since hatching? All are invented ones of the {species}."
    return f"{told} Then say of each brood whether it is within the days of ringing." if made.broods else told


def clue_words(made: AgeingRound, declared: Declarations) -> str:
    """Say what tells the age."""
    if not clues_of(declared)[0][made.species].is_wing:
        return _MASS
    return f"{_WING} {_TOO_FEW}" if made.level.broods and not made.broods else _WING


def how_to(made: AgeingRound, declared: Declarations) -> tuple[str, ...]:
    """Say what to do, with an example from the table of this species."""
    clue = clues_of(declared)[0][made.species]
    table = clue.table(int(declared.settings["practice.ageing.table_rows"].value))
    (day, size, _), (later, larger, half) = table[len(table) // 2 - 1 : len(table) // 2 + 1]
    middle = clue.text((size + larger) / 2)
    what, unit = ("wing", "mm") if clue.is_wing else ("mass", "g")
    level = percent_of(float(declared.settings["practice.ageing.confidence"].value))
    steps = [
        (
            f"Look the {what} up in the table. One of {middle} {unit} lies half way between "
            f"{clue.text(size)} {unit}, {day:.0f} days, and {clue.text(larger)} {unit}, {later:.0f} days: "
            f"the bird is about {_between(day, later)} days old."
        ),
        (
            f"Birds of one age differ. The last column says how far the age may be off: {level} of all birds "
            f"of {clue.text(larger)} {unit} are {later - half:.0f} to {later + half:.0f} days old. These "
            "days are the interval of the curve, and an answer inside it is right."
        ),
    ]
    if any(bird.plumage for bird in made.nestlings):
        steps.append(_FEATHERS)
    if made.level.unmeasured:
        steps.append(_ALONE)
    if made.broods:
        steps.append(_BROOD)
    if CLOSE in made.verdicts and made.broods:
        steps.append(_CLOSE)
    return tuple(steps)


def how_far(declared: Declarations) -> str:
    """Say how far this may be trusted."""
    setting = declared.settings["practice.ageing.feathers"]
    least, most = setting.value
    return (
        "Ages come from declared curves and are good to some days only; birds of other places grow "
        "otherwise. The state of the feathers tells age, too, and can mislead: in one brood ages told by "
        f"feathers were {least:g} to {most:g} days too old ({setting.source})."
    )


def plumage_rows(made: AgeingRound, declared: Declarations) -> list[tuple[str, str]]:
    """List the declared states of the feathers of a species: days, and what is seen."""
    return [
        (f"{state.first_day:g} to {state.last_day:g}", state.says)
        for state in declared.species[made.species].plumages
    ]


def plumage_sources(made: AgeingRound, declared: Declarations) -> str:
    """Say where the states of the feathers come from, and how surely they tell an age."""
    states = declared.species[made.species].plumages
    off = percent_of(float(declared.settings["practice.ageing.feathers_off"].value))
    told = " ".join(
        f"Day {state.first_day:g} to {state.last_day:g}: {state.source}. {_GRADES[state.grade]}"
        for state in states
    )
    return f"A bird may be ahead of these days or behind them by up to {off} of its age. {told}"


def window_words(made: AgeingRound, declared: Declarations) -> str:
    """Say what the days of ringing are, and where that comes from."""
    limits = declared.species[made.species].limits
    first, last = limits["ringing.youngest_day"], limits["ringing.oldest_day"]
    ends = (("first", first), ("last", last))
    why = " ".join(f"The {end} day: {one.source}. {_GRADES[one.grade]}" for end, one in ends)
    return f"The days of ringing are declared as day {first.value:g} to day {last.value:g}. {why}"


def cautions(made: AgeingRound, declared: Declarations) -> tuple[str, ...]:
    """Return what must be heeded: in general, and of this species."""
    return _HANDLING, _LICENCE, declared.species[made.species].caution


def size_words(bird: Nestling) -> str:
    """Name what a nestling measures, or how it looks when nothing else is known."""
    parts = [] if bird.wing is None else [f"wing {bird.wing:.0f} mm"]
    if bird.mass is not None:
        parts.append(f"{bird.weight} g")
    if not parts and bird.plumage:
        return "not measured"
    return ", ".join(parts)


def look_words(bird: Nestling) -> str:
    """Say how the feathers of a nestling look; empty where that is not declared."""
    return f"Feathers: {bird.plumage.says}" if bird.plumage else ""


def age_words(bird: Nestling, declared: Declarations) -> str:
    """Say how old a nestling is, and at which ages its feathers are seen."""
    told = f"{size_words(bird)}: {bird.age:.1f} days ({bird.low:.0f} to {bird.high:.0f})"
    if bird.plumage is None or not bird.is_measured:
        return told
    low, high = plumage_ages(bird.plumage, declared)
    return f"{told}; feathers like these are seen from day {low:.0f} to {high:.0f}"


def brood_words(brood: Brood) -> str:
    """Say what is right of a brood, and why."""
    told = ", ".join(
        f"{bird.wing:.0f} mm ({bird.low:.0f} to {bird.high:.0f} days)"
        for bird in brood.birds
        if bird.wing is not None
    )
    return f"{brood.verdict}: {told}"


def _between(day: float, later: float) -> str:
    """Name the whole days about the middle of two ages."""
    middle = (day + later) / 2
    return f"{middle:.0f}" if middle.is_integer() else f"{middle - 1 / 2:.0f} to {middle + 1 / 2:.0f}"

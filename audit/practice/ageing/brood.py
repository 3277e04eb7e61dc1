"""A brood of the ageing drill, and whether it is within the days of ringing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.practice.ageing.nestling import invent_nestling

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np

    from audit.declarations import Declarations
    from audit.declarations.species import Species
    from audit.practice.ageing.clue import AgeClue
    from audit.practice.ageing.nestling import Nestling

__all__ = ["CLOSE", "VERDICTS", "Brood", "invent_brood", "verdict_of"]

WITHIN, YOUNG, OLD, CLOSE = "within", "too young", "too old", "too close"
#: Answers to the question about a brood.
VERDICTS = (WITHIN, YOUNG, OLD, CLOSE)
#: Broods that are invented at most until one has the answer that is wished for.
_TRIES = 300


@dataclass(frozen=True, slots=True)
class Brood:
    """A brood, the first hatched bird first, with the right answer."""

    birds: tuple[Nestling, ...]
    verdict: str


def verdict_of(birds: Sequence[Nestling], window: tuple[float, float]) -> str:
    """Tell whether a brood is within the days of ringing.

    It is too young when one bird surely is, by its whole interval, too old likewise, and within when all
    surely are; else its ages are too close to the first or last day to tell. Empty where one bird is too
    young and another too old.
    """
    first, last = window
    young, old = any(bird.high < first for bird in birds), any(bird.low > last for bird in birds)
    if young or old:
        return "" if young and old else YOUNG if young else OLD
    return WITHIN if all(first <= bird.low and bird.high <= last for bird in birds) else CLOSE


def invent_brood(
    verdict: str, clue: AgeClue, species: Species, rng: np.random.Generator, declared: Declarations
) -> Brood | None:
    """Invent a brood of which one answer is right; None where there is none for these days of ringing."""
    span, birds = (float(declared.settings[f"practice.ageing.brood_{name}"].value) for name in _SETTINGS)
    for _ in range(_TRIES):
        start = rng.uniform(clue.first, max(clue.first, clue.last - span))
        ages = sorted(start + span * rng.random(int(birds)))[::-1]
        brood = tuple(invent_nestling(float(age), clue, species, rng, declared) for age in ages)
        if verdict_of(brood, clue.window) == verdict:
            return Brood(brood, verdict)
    return None


_SETTINGS = ("span", "birds")

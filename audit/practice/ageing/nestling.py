"""An invented nestling: its sizes, and the age that the curve gives for them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.growth import mean, spread
from audit.practice.ageing.clue import MASS, WING

if TYPE_CHECKING:
    from audit.declarations import Declarations
    from audit.declarations.plumage import Plumage
    from audit.declarations.species import Species
    from audit.practice.ageing.clue import AgeClue

__all__ = ["Nestling", "invent_nestling", "nestling_of"]

#: Nestlings that are invented at most until the curve gives one an age that may be asked.
_TRIES = 50


@dataclass(frozen=True, slots=True)
class Nestling:
    """An invented nestling.

    Attributes
    ----------
    wing, mass : float or None
        Whole millimetres; net, in grams. None where it is not shown.
    age, low, high : float
        Age in days that the curve gives, with the interval in whole days.
    stage : str
        Third of the ages that are asked; empty in a brood.
    decimals : int
        Of its mass.
    plumage : Plumage or None
        How its feathers look; None where that is not declared, and in a brood.
    """

    wing: float | None
    mass: float | None
    age: float
    low: float
    high: float
    stage: str = ""
    decimals: int = 0
    plumage: Plumage | None = None

    @property
    def weight(self) -> str:
        """Its mass as it is read off a balance; empty where it is not shown."""
        return "" if self.mass is None else f"{self.mass:.{self.decimals}f}"

    @property
    def is_measured(self) -> bool:
        """Whether more than its feathers is known of it."""
        return self.wing is not None or self.mass is not None


def nestling_of(
    clue: AgeClue, wing: float | None = None, mass: float | None = None, stage: str = ""
) -> Nestling:
    """Age a nestling by its wing, mm, or by its mass, g, whichever the clue asks for."""
    size = wing if clue.is_wing else mass
    if size is None:
        raise ValueError(f"no {clue.measure} to age by")
    return Nestling(wing, mass, *clue.age(size), stage, clue.decimals)


def invent_nestling(
    age: float,
    clue: AgeClue,
    species: Species,
    rng: np.random.Generator,
    declared: Declarations,
    stage: str = "",
) -> Nestling:
    """Invent a nestling of about an age in days, sized as others of its species."""
    narrow = float(declared.settings["practice.page.narrow"].value)
    for _ in range(_TRIES):
        sizes: dict[str, float] = {}
        for name in (WING, MASS):
            off = narrow * float(np.clip(rng.normal(), -2, 2))
            curve = species.curves.get(name)
            if curve is not None and curve.first_day <= age <= curve.last_day:
                sizes[name] = float(mean(curve, age) + off * spread(curve, age))
        bird = nestling_of(clue, _wing(sizes), _mass(sizes, clue.decimals), stage)
        if clue.first <= bird.age <= clue.last:
            return bird
    return bird


def _wing(sizes: dict[str, float]) -> float | None:
    return float(np.round(sizes[WING])) if WING in sizes else None


def _mass(sizes: dict[str, float], decimals: int) -> float | None:
    return max(float(10**-decimals), round(sizes[MASS], decimals)) if MASS in sizes else None

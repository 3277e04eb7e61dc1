"""The feathers of an invented nestling, and the ages that they tell."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from audit.declarations import Declarations
    from audit.declarations.plumage import Plumage
    from audit.declarations.species import Species
    from audit.practice.ageing.nestling import Nestling

__all__ = ["feathered", "feathers_alone", "plumage_ages"]


def feathered(
    bird: Nestling, age: float, species: Species, rng: np.random.Generator, declared: Declarations
) -> Nestling:
    """Give a nestling of a true age in days the feathers of its species; as it is where none are declared.

    Feathers run ahead of the declared days or lag behind, by up to the share that
    ``practice.ageing.feathers_off`` says.
    """
    off = _off(declared)
    seen = age * (1 + off * float(np.clip(rng.normal() / 2, -1, 1)))
    found = [state for state in species.plumages if state.first_day <= seen]
    return replace(bird, plumage=found[-1]) if found else bird


def feathers_alone(bird: Nestling, declared: Declarations) -> Nestling:
    """Show a nestling by its feathers alone: they tell its age, and neither wing nor mass is known."""
    if bird.plumage is None:
        return bird
    low, high = plumage_ages(bird.plumage, declared)
    return replace(
        bird,
        wing=None,
        mass=None,
        age=(bird.plumage.first_day + bird.plumage.last_day) / 2,
        low=low,
        high=high,
    )


def plumage_ages(state: Plumage, declared: Declarations) -> tuple[float, float]:
    """Ages in whole days at which a state of the feathers can be seen, rounded outwards."""
    off = _off(declared)
    return float(np.floor(state.first_day / (1 + off))), float(np.ceil(state.last_day / (1 - off)))


def _off(declared: Declarations) -> float:
    return float(declared.settings["practice.ageing.feathers_off"].value)

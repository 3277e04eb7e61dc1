"""A round of the weighing drill: made from its code, and again from it when it is marked."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.growth import mean, spread
from audit.practice.drill.level import level_named
from audit.practice.drill.mix import made_of_mix, mix_text
from audit.practice.drill.round_code import code_for
from audit.practice.exercise.season_page import practice_species
from audit.practice.weighing_drill.balance import display_for, spring_for
from audit.practice.weighing_drill.levels import weighing_levels
from audit.practice.weighing_drill.weighing import DRILL, WAYS, Weighing
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.declarations import Declarations
    from audit.declarations.species import Species
    from audit.practice.weighing_drill.levels import WeighingLevel

__all__ = ["Round", "make_round", "round_of_code"]

_MOST = 60


@dataclass(frozen=True, slots=True)
class Round:
    """A round.

    Attributes
    ----------
    trainee : str
    number : int
        Another number, another round.
    species : str
    level : WeighingLevel
    mix : tuple of int
        Weighings in each of the ways, in the order of `WAYS`.
    weighings : tuple of Weighing
        In the order of the page.
    """

    trainee: str
    number: int
    species: str
    level: WeighingLevel
    mix: tuple[int, ...]
    weighings: tuple[Weighing, ...]

    @property
    def name(self) -> str:
        """Stem of its files."""
        return f"{DRILL}-{self.trainee}-{self.species}-{self.level.slug}-{self.number}"

    @property
    def ways(self) -> tuple[str, ...]:
        """Ways of weighing that come in it."""
        return tuple(way for way, times in zip(WAYS, self.mix, strict=True) if times)

    @property
    def code(self) -> str:
        """All that it takes to make it again, and six digits that tell whether it came out the same."""
        told = [(one.way, one.gross, one.bag, one.gross_on, one.bag_on) for one in self.weighings]
        wishes = (self.species, self.level.slug, mix_text(self.mix))
        return code_for(DRILL, self.trainee, self.number, wishes, told)


def make_round(
    trainee: str, number: int, species: str, level: str, mix: Sequence[int], declared: Declarations
) -> Round:
    """Make a round: the same wish gives the same round.

    Parameters
    ----------
    level : str
        Name of the level that the mix was made for.
    mix : sequence of int
        Weighings in each of the ways, in the order of `WAYS`.

    Raises
    ------
    audit.refusal.Refusal
        No such species or level, or no masses of it can be foretold; no balance carries it, or too many
        weighings.
    """
    one = declared.species.get(species)
    if one is None or species not in practice_species(declared):
        raise Refusal(
            f"No bird can be invented for the species '{species}'.",
            where="species",
            cure=f"Name one that has a growth curve: {', '.join(practice_species(declared))}.",
        )
    if not 0 < sum(mix) <= _MOST:
        raise Refusal(
            f"A round of {sum(mix)} weighings cannot be made.", where="weighings", cure=f"Ask 1 to {_MOST}."
        )
    asked = level_named(weighing_levels(declared), level, DRILL)
    seed = hashlib.blake2b(f"{DRILL} {trainee} {number}".encode(), digest_size=8).digest()
    rng = np.random.default_rng(int.from_bytes(seed))
    ways = [way for way, times in zip(WAYS, mix, strict=True) for _ in range(times)]
    order = rng.permutation(len(ways))
    made = tuple(_weighing(ways[place], one, rng, declared) for place in order)
    return Round(trainee, number, species, asked, tuple(mix), made)


def round_of_code(code: str, declared: Declarations) -> Round:
    """Make a round again from its code.

    Raises
    ------
    audit.refusal.Refusal
        It is no code, or the declarations have changed since, so that the round comes out otherwise.
    """
    return made_of_mix(code, DRILL, len(WAYS), make_round, declared)


def _weighing(way: str, species: Species, rng: np.random.Generator, declared: Declarations) -> Weighing:
    page = {name: float(declared.settings[f"practice.page.{name}"].value) for name in ("narrow", "bag_share")}
    curve = species.curves["mass_g"]
    first = max(species.number("ringing.youngest_day") or 0.0, curve.first_day)
    last = min(species.number("ringing.oldest_day") or curve.last_day, curve.last_day)
    heaviest = float(np.max(mean(curve, np.arange(np.ceil(first), last + 1))))
    display = display_for(heaviest, declared)
    age = rng.uniform(first, last)
    off = float(np.clip(rng.normal(), -2, 2))
    net = float(mean(curve, age)) + page["narrow"] * off * float(spread(curve, age))
    wide = float(declared.settings["practice.weighing.bag_spread"].value)
    bag = heaviest * page["bag_share"] * rng.uniform(1 - wide, 1 + wide)
    bag = max(display.mark, _to(bag, display.mark))
    gross = _to(bag + max(net, display.mark), display.mark)
    on_spring = {"gross": way in {"spring", "mixed", "no_bag"}, "bag": way == "spring"}
    return Weighing(
        way,
        gross,
        bag,
        spring_for(gross, declared) if on_spring["gross"] else display,
        spring_for(bag, declared) if on_spring["bag"] else display,
    )


def _to(grams: float, step: float) -> float:
    return round(round(grams / step) * step, 6)

"""A round of the ageing drill: invented nestlings and broods, made from a code and again from it."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.practice.ageing.brood import invent_brood
from audit.practice.ageing.clue import clues_of
from audit.practice.ageing.levels import DRILL, ageing_levels
from audit.practice.ageing.nestling import invent_nestling
from audit.practice.ageing.plumage import feathered, feathers_alone
from audit.practice.drill.level import level_named
from audit.practice.drill.mix import made_of_mix, mix_text
from audit.practice.drill.round_code import code_for
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.declarations import Declarations
    from audit.declarations.species import Species
    from audit.practice.ageing.brood import Brood
    from audit.practice.ageing.clue import AgeClue
    from audit.practice.ageing.levels import AgeingLevel
    from audit.practice.ageing.nestling import Nestling

__all__ = ["STAGES", "AgeingRound", "clue_for", "make_round", "round_of_code"]

#: Thirds of the ages that are shown.
STAGES = ("young", "middling", "old")
_MOST = 60


@dataclass(frozen=True, slots=True)
class AgeingRound:
    """A round.

    Attributes
    ----------
    trainee : str
    number : int
        Another number, another round.
    species : str
    level : AgeingLevel
    mix : tuple of int
        Nestlings of each of `STAGES`.
    nestlings : tuple of Nestling
        Whose age is asked.
    broods : tuple of Brood
        Of which is asked whether they are within the days of ringing; none of a species that is aged by mass,
        or whose days of ringing are too few to tell by a wing.
    """

    trainee: str
    number: int
    species: str
    level: AgeingLevel
    mix: tuple[int, ...]
    nestlings: tuple[Nestling, ...]
    broods: tuple[Brood, ...]

    @property
    def verdicts(self) -> tuple[str, ...]:
        """Answers that may be given about broods."""
        return self.level.verdicts

    @property
    def name(self) -> str:
        """Stem of its files."""
        return f"{DRILL}-{self.trainee}-{self.species}-{self.level.slug}-{self.number}"

    @property
    def code(self) -> str:
        """All that it takes to make it again, and six digits that tell whether it came out the same."""
        birds = [*self.nestlings, *(bird for brood in self.broods for bird in brood.birds)]
        told = [
            (bird.wing, bird.mass, round(bird.age, 3), round(bird.low, 3), bird.plumage and bird.plumage.says)
            for bird in birds
        ]
        wishes = (self.species, self.level.slug, mix_text(self.mix))
        return code_for(DRILL, self.trainee, self.number, wishes, told)


def clue_for(slug: str, declared: Declarations) -> AgeClue:
    """Return what tells the age of a species.

    Raises
    ------
    audit.refusal.Refusal
        Nothing that is declared does.
    """
    offered, reasons = clues_of(declared)
    if slug not in offered:
        raise Refusal(
            f"Nestlings of '{slug}' cannot be aged here: {reasons.get(slug, 'no such species is declared')}.",
            where="species",
            cure=f"Name one of: {', '.join(offered) or 'none is declared'}.",
        )
    return offered[slug]


def make_round(
    trainee: str, number: int, slug: str, level: str, mix: Sequence[int], declared: Declarations
) -> AgeingRound:
    """Make a round: the same wish gives the same round.

    Parameters
    ----------
    slug : str
        The species.
    level : str
        Name of the level.
    mix : sequence of int
        Nestlings of each of `STAGES`.

    Raises
    ------
    audit.refusal.Refusal
        The species cannot be aged here, or there is no such level.
    """
    clue, species = clue_for(slug, declared), declared.species[slug]
    asked = level_named(ageing_levels(declared), level, DRILL)
    if not 0 < sum(mix) <= _MOST:
        raise Refusal(
            f"A round of {sum(mix)} nestlings cannot be made.", where="nestlings", cure=f"Ask 1 to {_MOST}."
        )
    seed = int.from_bytes(hashlib.blake2b(f"{DRILL} {trainee} {number}".encode(), digest_size=8).digest())
    rng, of_feathers = np.random.default_rng(seed), np.random.default_rng([seed, 1])
    edges = np.linspace(clue.first, clue.last, len(STAGES) + 1)
    stages = [place for place, times in enumerate(mix) for _ in range(times)]
    birds = []
    for place in rng.permutation(stages):
        age = float(rng.uniform(edges[place], edges[place + 1]))
        bird = invent_nestling(age, clue, species, rng, declared, STAGES[place])
        birds.append(feathered(bird, age, species, of_feathers, declared))
    alone = asked.unmeasured
    birds = [*(feathers_alone(bird, declared) for bird in birds[:alone]), *birds[alone:]]
    broods = _broods(asked, clue, species, rng, declared) if clue.is_wing else ()
    return AgeingRound(trainee, number, slug, asked, tuple(mix), tuple(birds), broods)


def _broods(
    asked: AgeingLevel,
    clue: AgeClue,
    species: Species,
    rng: np.random.Generator,
    declared: Declarations,
) -> tuple[Brood, ...]:
    """Invent broods whose right answers vary; none where the days of ringing leave but one answer."""
    possible = {one: invent_brood(one, clue, species, rng, declared) for one in asked.verdicts}
    answers = [one for one, brood in possible.items() if brood is not None]
    if len(answers) <= 1:
        return ()
    # more of each than are needed, so that nobody finds the last answer by counting
    pool = answers * (1 + -(-asked.broods // len(answers)))
    drawn = (pool[int(place)] for place in rng.permutation(len(pool))[: asked.broods])
    made = (invent_brood(one, clue, species, rng, declared) or possible[one] for one in drawn)
    return tuple(brood for brood in made if brood is not None)


def round_of_code(code: str, declared: Declarations) -> AgeingRound:
    """Make a round again from its code.

    Raises
    ------
    audit.refusal.Refusal
        It is no code, or the declarations have changed since, so that the round comes out otherwise.
    """
    return made_of_mix(code, DRILL, len(STAGES), make_round, declared)

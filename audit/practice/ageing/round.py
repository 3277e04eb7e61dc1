"""A round of the ageing drill: invented nestlings and broods, made from a code and again from it."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from audit.models.growth import age_of, age_sd, mean, spread
from audit.practice.exercise.round_codes import round_again
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.declarations import Declarations
    from audit.declarations.species import Species
    from audit.models.growth import Curve
    from audit.practice.exercise.drill_record import DrillRecord

__all__ = [
    "DRILL",
    "STAGES",
    "VERDICTS",
    "AgeingRound",
    "Nestling",
    "aged_species",
    "make_round",
    "nestling_of",
    "next_mix",
    "round_of_code",
]

#: Name of the drill.
DRILL = "ageing"
#: Thirds of the ages that are shown.
STAGES = ("young", "middling", "old")
#: Answers to the question about a brood.
VERDICTS = ("within", "too young", "too old")
#: Broods that are invented at most until one has a clear answer.
_TRIES = 2000
_CODE = re.compile(r"ageing\.([\w-]{1,12})\.(\d{1,6})\.(\w+)\.(\d{1,2})-(\d{1,2})-(\d{1,2})\.([0-9a-f]{6})")


@dataclass(frozen=True, slots=True)
class Nestling:
    """An invented nestling.

    Attributes
    ----------
    wing : float
        Whole millimetres.
    mass : float or None
        Net, in whole grams; None where no curve of mass is declared at its age.
    age, low, high : float
        Age in days that the curve gives for its wing, with the interval.
    stage : str
        One of `STAGES`.
    """

    wing: float
    mass: float | None
    age: float
    low: float
    high: float
    stage: str = ""


@dataclass(frozen=True, slots=True)
class AgeingRound:
    """A round: nestlings whose age is asked, and broods with the right answer to each."""

    trainee: str
    number: int
    species: str
    mix: tuple[int, ...]
    nestlings: tuple[Nestling, ...]
    broods: tuple[tuple[tuple[Nestling, ...], str], ...]

    @property
    def name(self) -> str:
        """Stem of its files."""
        return f"{self.trainee}-ageing-{self.number:03d}"

    @property
    def code(self) -> str:
        """All that it takes to make it again, and six digits that tell whether it came out the same."""
        birds = [*self.nestlings, *(bird for brood, _ in self.broods for bird in brood)]
        told = repr([(bird.wing, bird.mass, round(bird.age, 3), round(bird.low, 3)) for bird in birds])
        digest = hashlib.blake2b(told.encode(), digest_size=3).hexdigest()
        mix = "-".join(map(str, self.mix))
        return f"{DRILL}.{self.trainee}.{self.number}.{self.species}.{mix}.{digest}"


def aged_species(declared: Declarations) -> tuple[dict[str, Curve], dict[str, str]]:
    """Tell of which species wings can be aged around the days of ringing, and why not of the others.

    Returns
    -------
    dict of str to Curve, dict of str to str
        Wing curve by species, and the reason by species that is not offered.
    """
    beyond = float(declared.settings["practice.ageing.beyond"].value)
    offered, reasons = {}, {}
    for slug, species in declared.species.items():
        curve = species.curves.get("wing_mm")
        first, last = (species.number(f"ringing.{name}_day") for name in ("youngest", "oldest"))
        if curve is None:
            reasons[slug] = "no curve of its wing is declared"
        elif first is None or last is None:
            reasons[slug] = "its days of ringing are not declared"
        elif curve.recession is not None:
            reasons[slug] = "its wing curve falls again, so that a wing has two ages"
        elif curve.first_day > first - beyond or curve.last_day < last + beyond:
            reasons[slug] = f"its wing curve holds for days {curve.first_day:g} to {curve.last_day:g} only"
        else:
            offered[slug] = curve
    return offered, reasons


def nestling_of(
    wing: float, curve: Curve, confidence: float, mass: float | None = None, stage: str = ""
) -> Nestling:
    """Age a nestling by its wing.

    Parameters
    ----------
    wing : float
        In millimetres.
    confidence : float
        Of the interval, such as 0.95.

    References
    ----------
    Spread over pace, the propagation of error to first order; normal quantiles.
    """
    from scipy.special import ndtri

    age = float(age_of(curve, wing))
    half = float(ndtri((1 + confidence) / 2)) * float(age_sd(curve, age))
    return Nestling(wing, mass, age, max(curve.first_day, age - half), age + half, stage)


def next_mix(records: Sequence[DrillRecord], declared: Declarations) -> tuple[int, ...]:
    """Divide the next round among young, middling and old: one of each at least, the rest by what was missed.

    References
    ----------
    Share missed by Laplace's rule of succession, ``(missed + 1) / (asked + 2)``; largest remainders.
    """
    last = records[-int(declared.settings["practice.ageing.memory"].value) :]
    asked, missed = (
        np.array([sum(one.counts.get(part, {}).get(stage, 0) for one in last) for stage in STAGES], float)
        for part in ("stages", "missed")
    )
    weight = (missed + 1) / (asked + 2)
    spare = max(0, int(declared.settings["practice.ageing.nestlings"].value) - len(STAGES))
    share = spare * weight / weight.sum()
    whole = np.floor(share + 1e-9).astype(int)
    whole[np.argsort(-(share - whole), kind="stable")[: spare - int(whole.sum())]] += 1
    return tuple(int(number) + 1 for number in whole)


def make_round(
    trainee: str, number: int, slug: str, mix: Sequence[int], declared: Declarations
) -> AgeingRound:
    """Make a round: the same wish gives the same round.

    Raises
    ------
    audit.refusal.Refusal
        Wings of the species cannot be aged over the days around its ringing, or these are too few.
    """
    offered, reasons = aged_species(declared)
    if slug not in offered:
        raise Refusal(
            f"Nestlings of '{slug}' cannot be aged here: {reasons.get(slug, 'no such species is declared')}.",
            where="species",
            cure=f"Name one of: {', '.join(offered) or 'none is declared'}.",
        )
    setting = {
        name: float(declared.settings[f"practice.ageing.{name}"].value)
        for name in ("beyond", "broods", "brood_birds", "brood_span", "clear", "confidence")
    }
    species = declared.species[slug]
    seed = hashlib.blake2b(f"{DRILL} {trainee} {number}".encode(), digest_size=8).digest()
    rng = np.random.default_rng(int.from_bytes(seed))
    first, last = _window(species)
    edges = np.linspace(first - setting["beyond"], last + setting["beyond"], len(STAGES) + 1)
    stages = [place for place, times in enumerate(mix) for _ in range(times)]
    birds = tuple(
        _bird(rng.uniform(edges[place], edges[place + 1]), species, rng, declared, STAGES[place])
        for place in rng.permutation(stages)
    )
    broods = tuple(
        _brood(VERDICTS[int(rng.integers(len(VERDICTS)))], species, rng, declared)
        for _ in range(int(setting["broods"]))
    )
    return AgeingRound(trainee, number, slug, tuple(mix), birds, broods)


def round_of_code(code: str, declared: Declarations) -> AgeingRound:
    """Make a round again from its code.

    Raises
    ------
    audit.refusal.Refusal
        It is no code, or the declarations have changed since, so that the round comes out otherwise.
    """
    return round_again(code, _CODE, "an ageing", partial(make_round, declared=declared))


def _window(species: Species) -> tuple[float, float]:
    return species.number("ringing.youngest_day") or 0.0, species.number("ringing.oldest_day") or 0.0


def _bird(
    age: float, species: Species, rng: np.random.Generator, declared: Declarations, stage: str = ""
) -> Nestling:
    narrow = float(declared.settings["practice.page.narrow"].value)
    level = float(declared.settings["practice.ageing.confidence"].value)
    sizes: dict[str, float] = {}
    for name in ("wing_mm", "mass_g"):
        off = narrow * float(np.clip(rng.normal(), -2, 2))
        curve = species.curves.get(name)
        if curve is not None and curve.first_day <= age <= curve.last_day:
            sizes[name] = float(np.round(mean(curve, age) + off * spread(curve, age)))
    return nestling_of(sizes["wing_mm"], species.curves["wing_mm"], level, sizes.get("mass_g"), stage)


def _brood(
    verdict: str, species: Species, rng: np.random.Generator, declared: Declarations
) -> tuple[tuple[Nestling, ...], str]:
    """Make a brood of which one answer is clearly right by its wings, trying until there is one."""
    span, clear, beyond = (
        float(declared.settings[f"practice.ageing.{name}"].value)
        for name in ("brood_span", "clear", "beyond")
    )
    birds = int(declared.settings["practice.ageing.brood_birds"].value)
    first, last = _window(species)
    low, high = {
        "within": (first + clear, last - clear),
        "too young": (first - beyond, last - clear),
        "too old": (first + clear, last + beyond),
    }[verdict]
    for _ in range(_TRIES):
        start = rng.uniform(low, max(low, high - span))
        brood = tuple(
            _bird(age, species, rng, declared) for age in sorted(start + span * rng.random(birds))[::-1]
        )
        ages = [bird.age for bird in brood]
        young, old = min(ages) <= first - clear, max(ages) >= last + clear
        inside = first + clear <= min(ages) and max(ages) <= last - clear
        fits = {
            "within": inside,
            "too young": young and max(ages) <= last,
            "too old": old and min(ages) >= first,
        }
        if fits[verdict]:
            return brood, verdict
    raise Refusal(
        f"No brood that is clearly '{verdict}' can be invented for the declared days of ringing.",
        where="practice.yaml, ageing",
        cure="Let the days of ringing lie further apart, or lower 'brood_span' or 'clear'.",
    )

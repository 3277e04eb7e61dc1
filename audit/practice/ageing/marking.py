"""A round marked: each age beside the interval of the curve, lean and spread of all, what to practise."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.models.interval import Share, wilson
from audit.models.limits_of_agreement import Limits, limits_of_agreement
from audit.practice.ageing.levels import DRILL
from audit.practice.ageing.round import STAGES
from audit.practice.drill.share_words import percent_of
from audit.practice.exercise.drill_record import DrillRecord, identity_of
from audit.practice.weighing_drill.classing import number_in
from audit.refusal import Refusal
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.declarations import Declarations
    from audit.practice.ageing.nestling import Nestling
    from audit.practice.ageing.round import AgeingRound

__all__ = [
    "Estimate",
    "MarkedAges",
    "advice",
    "estimate_of",
    "lean_words",
    "mark_ages",
    "overview_line",
    "record_of",
]


@dataclass(frozen=True, slots=True)
class Estimate:
    """One age as estimated: ``kind`` is ``inside``, ``too young``, ``too old`` or ``missing``.

    ``off``, in days, is what was written less the age that the curve gives; None where no number was written.
    """

    written: str
    kind: str
    off: float | None = None


@dataclass(frozen=True, slots=True)
class MarkedAges:
    """A marked round.

    Attributes
    ----------
    made : AgeingRound
    ages, verdicts : tuple of str
        As written, the verdicts in plain words.
    estimates : tuple of Estimate
    inside, broods : Share
        Ages inside the interval of the curve; broods told rightly.
    limits : Limits or None
        Lean and spread of the errors; None of fewer ages than are declared.
    confidence : float
        Of all intervals.
    """

    made: AgeingRound
    ages: tuple[str, ...]
    verdicts: tuple[str, ...]
    estimates: tuple[Estimate, ...]
    inside: Share
    broods: Share
    limits: Limits | None
    confidence: float


def estimate_of(bird: Nestling, written: str) -> Estimate:
    """Hold what was written against the interval of the curve, in days."""
    days = number_in(written.strip().removesuffix("days").removesuffix("d"))
    if days is None:
        return Estimate(written.strip(), "missing")
    kind = "too young" if days < bird.low else "too old" if days > bird.high else "inside"
    return Estimate(written.strip(), kind, days - bird.age)


def mark_ages(
    made: AgeingRound, ages: Sequence[str], verdicts: Sequence[str], declared: Declarations
) -> MarkedAges:
    """Mark what was written of a round.

    Parameters
    ----------
    ages : sequence of str
        Days since hatching, one for each nestling; empty where nothing was written.
    verdicts : sequence of str
        One of those of the round for each brood, such as ``too young``; empty where nothing was written.

    Raises
    ------
    audit.refusal.Refusal
        There are more or fewer of them, or a verdict is another word.
    """
    if (len(ages), len(verdicts)) != (len(made.nestlings), len(made.broods)):
        raise Refusal(
            f"There are answers to {len(ages)} nestlings and {len(verdicts)} broods, and the round has "
            f"{len(made.nestlings)} and {len(made.broods)}.",
            where=made.name,
            cure="Give one answer for each; leave it empty where nothing was written.",
        )
    plain = tuple(" ".join(one.lower().replace("_", " ").split()) for one in verdicts)
    odd = [one for one in plain if one and one not in made.verdicts]
    if odd:
        raise Refusal(
            f"'{odd[0]}' is no answer about a brood.",
            where=made.name,
            cure=f"Write {', '.join(made.verdicts)}.",
        )
    level = float(declared.settings["practice.ageing.confidence"].value)
    estimates = tuple(estimate_of(bird, text) for bird, text in zip(made.nestlings, ages, strict=True))
    least = int(declared.settings["practice.ageing.lean_least"].value)
    off = [one.off for one in estimates if one.off is not None]
    right = [one == brood.verdict for one, brood in zip(plain, made.broods, strict=True)]
    return MarkedAges(
        made,
        tuple(one.strip() for one in ages),
        plain,
        estimates,
        wilson(sum(one.kind == "inside" for one in estimates), len(estimates), level),
        wilson(sum(right), len(right), level),
        limits_of_agreement(off, level) if len(off) >= least else None,
        level,
    )


def lean_words(limits: Limits | None) -> str:
    """Say whether ages are taken for too young or too old on the whole, and how far they scatter."""
    if limits is None:
        return "Of so few ages nothing can be said about lean and spread."
    bias = limits.bias
    way = "old" if bias.value > 0 else "young"
    ends = sorted(abs(end) for end in (bias.low, bias.high))
    scatter = (
        f"{percent_of(limits.share)} of your ages would lie {limits.lower.value:+.1f} to "
        f"{limits.upper.value:+.1f} days off."
    )
    if bias.low <= 0 <= bias.high:
        told = (
            "On the whole you take nestlings neither for too young nor for too old, as far as these tell: on "
            f"average {bias.value:+.1f} days ({bias.low:+.1f} to {bias.high:+.1f})."
        )
        return f"{told} {scatter}"
    told = f"You take nestlings for too {way}, by {abs(bias.value):.1f} days on average"
    return f"{told} ({ends[0]:.1f} to {ends[1]:.1f}). {scatter}"


def advice(marked: MarkedAges) -> str:
    """Say in some sentences how the ages lean and what to practise."""
    told = [lean_words(marked.limits)]
    kinds = [one.kind for one in marked.estimates]
    missed = _missed(marked)
    if marked.inside.hits == marked.inside.trials:
        told.append("All ages lie within the interval of the curve.")
    else:
        worst = max(STAGES, key=lambda stage: (missed[stage], -STAGES.index(stage)))
        told.append(
            f"Outside the interval: {kinds.count('too young')} too young, {kinds.count('too old')} too old, "
            f"{kinds.count('missing')} not answered. Practise {worst} nestlings: the next round holds more."
        )
    if marked.broods.hits < marked.broods.trials:
        told.append("Of a brood, age the smallest and the largest wing first: they decide.")
    return " ".join(told)


def overview_line(records: Sequence[DrillRecord], declared: Declarations) -> str:
    """Say in a line how a trainee gets on with ageing, for the trainer."""
    level = float(declared.settings["practice.ageing.confidence"].value)
    own = wilson(sum(one.right for one in records), sum(one.asked for one in records), level)
    told = f"Ageing drill: {counted(len(records), 'round')}, {own.hits} of {own.trials} answers right"
    return f"{told} ({own.low:.2f} to {own.high:.2f})."


def record_of(marked: MarkedAges, *, at: str) -> DrillRecord:
    """Make the line of progress of a marked round, marked at a moment, ISO 8601."""
    made = marked.made
    stages = [bird.stage for bird in made.nestlings]
    return DrillRecord(
        identity=identity_of(made.code, [*marked.ages, *marked.verdicts]),
        at=at,
        who=made.trainee,
        drill=DRILL,
        sheet=made.name,
        level=made.level.slug,
        asked=marked.inside.trials + marked.broods.trials,
        right=marked.inside.hits + marked.broods.hits,
        counts={"stages": {stage: stages.count(stage) for stage in STAGES}, "missed": _missed(marked)},
    )


def _missed(marked: MarkedAges) -> dict[str, int]:
    pairs = list(zip(marked.made.nestlings, marked.estimates, strict=True))
    return {
        stage: sum(bird.stage == stage and one.kind != "inside" for bird, one in pairs) for stage in STAGES
    }

"""What the repeats of one measure tell: of the measure, of each observer, of single pairs."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from audit.models.digits import last_digits, on_step, preference
from audit.models.measurement_error import technical_error
from audit.models.observer_bias import biases, cell_means
from audit.models.observers_alike import alike
from audit.models.odd_pairs import odd_pairs
from audit.models.repeatability import repeatability, repeats_for, repeats_for_error
from audit.models.written_number import typed_unit
from audit.practice.measuring.comparison import comparisons
from audit.practice.measuring.standing_out import stands_out

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from audit.declarations import Declarations
    from audit.models.digits import Preference
    from audit.models.measurement_error import Error
    from audit.models.observer_bias import Bias
    from audit.models.observers_alike import Alike
    from audit.models.repeatability import Repeatability
    from audit.practice.measuring.comparison import Comparison
    from audit.practice.measuring.standing_out import Odd
    from audit.practice.measuring.taken import Repeats

    Floats = NDArray[np.float64]

__all__ = ["Account", "Goals", "account", "goals_of"]


@dataclass(frozen=True, slots=True)
class Goals:
    """What is aimed at.

    Attributes
    ----------
    repeatability : float
    error, bias : float or None
        In the unit of the measure; None where none is declared.
    """

    repeatability: float
    error: float | None
    bias: float | None


@dataclass(frozen=True, slots=True)
class Account:
    """What the repeats of one measure tell.

    Attributes
    ----------
    repeats : Repeats
    goals : Goals
    step : float
        Unit of the last digit that was written.
    repeatability : Repeatability or None
        Of one measure, whoever takes it.
    error : Error or None
        Of one measure, whoever takes it: bias of observers included.
    own : tuple of (str, Error)
        Of each observer's own repeats.
    biases : tuple of Bias
    alike : Alike or None
    comparisons : tuple of Comparison
    digits : tuple of (str, Preference)
        Last digits of each observer with enough values.
    odd : tuple of Odd
        Birds that stand out; they are in all figures.
    without_odd : Account or None
        The same without them.
    needed_for_repeatability, needed_for_error : int or None
        Measures of one bird whose mean reaches the goal; None where none does or no goal is declared.
    refused : tuple of str
        What could not be told, and why.
    """

    repeats: Repeats
    goals: Goals
    step: float
    repeatability: Repeatability | None
    error: Error | None
    own: tuple[tuple[str, Error], ...]
    biases: tuple[Bias, ...]
    alike: Alike | None
    comparisons: tuple[Comparison, ...]
    digits: tuple[tuple[str, Preference], ...]
    odd: tuple[Odd, ...]
    without_odd: Account | None
    needed_for_repeatability: int | None
    needed_for_error: int | None
    refused: tuple[str, ...]


def goals_of(declared: Declarations, field: str) -> Goals:
    """Return what is aimed at in one measure."""

    def number(name: str) -> float | None:
        limit = declared.settings.get(f"practice.measuring.goals.{field}.{name}")
        return None if limit is None else float(limit.value)

    whole = float(declared.settings["practice.measuring.goals.repeatability"].value)
    return Goals(whole, number("error"), number("bias"))


def account(repeats: Repeats, declared: Declarations, trainer: int = -1) -> Account:
    """Tell what repeats of one measure say.

    Parameters
    ----------
    trainer : int
        Number of the observer whom the others are held against, -1 for none.
    """
    made = _account(repeats, declared, trainer)
    odd = _odd_birds(made, declared)
    if not odd:
        return made
    without = _account(repeats.without(odd), declared, trainer)
    usual = 0.0 if without.error is None else without.error.largest_difference
    channel = declared.slips.channel()
    return replace(
        made,
        odd=tuple(stands_out(made.repeats, bird, channel, made.step, usual) for bird in odd),
        without_odd=without,
    )


def _account(repeats: Repeats, declared: Declarations, trainer: int) -> Account:
    level, share = (
        float(declared.settings[f"practice.measuring.{name}"].value) for name in ("level", "share")
    )
    goals = goals_of(declared, repeats.measure.field)
    refused: list[str] = []
    values, bird = repeats.values, repeats.bird
    whole, error = None, None
    try:
        error = technical_error(values, bird, level)
        whole = repeatability(values, bird, level)
    except ValueError as fault:
        refused.append(_why(str(fault)))
    found: tuple[Bias, ...] = ()
    try:
        found = biases(values, bird, repeats.observer, trainer, level)
    except ValueError as fault:
        refused.append(_why(str(fault)))
    return Account(
        repeats=repeats,
        goals=goals,
        step=_step(values, float(declared.settings["practice.measuring.step_share"].value)),
        repeatability=whole,
        error=error,
        own=tuple(_own_errors(repeats, level)),
        biases=found,
        alike=_alike(repeats, level),
        comparisons=comparisons(repeats, trainer, level, share),
        digits=tuple(_digits(repeats, declared)),
        odd=(),
        without_odd=None,
        needed_for_repeatability=None if whole is None else repeats_for(whole.value, goals.repeatability),
        needed_for_error=None
        if error is None or goals.error is None
        else repeats_for_error(error.value, goals.error),
        refused=tuple(refused),
    )


_WHY = {
    "nobody": "No bird was measured twice, so nothing can be said of error.",
    "two birds": (
        "Only one bird was measured again: its repeats tell the error, but repeatability needs other birds."
    ),
    "all values": (
        "All values are equal: neither birds nor repeats differ, and no repeatability can be told. Take "
        "birds of different size, and a finer scale."
    ),
    "observers fall": (
        "Some observers have no bird in common with the others, so no bias can be told between them: let all "
        "measure a few of the same birds."
    ),
    "the one": "The trainer measured no bird that others measured, so nobody can be held against them.",
}


def _why(fault: str) -> str:
    """Say for a person what the mathematics refused."""
    return next(said for start, said in _WHY.items() if fault.startswith(start))


def _own_errors(repeats: Repeats, level: float) -> Iterator[tuple[str, Error]]:
    for number, name in enumerate(repeats.observers):
        mine = repeats.observer == number
        counts = np.bincount(repeats.bird[mine], minlength=1)
        if (counts > 1).any():
            yield name, technical_error(repeats.values[mine], repeats.bird[mine], level)


def _alike(repeats: Repeats, level: float) -> Alike | None:
    mean, bird, who = cell_means(repeats.values, repeats.bird, repeats.observer)
    table = np.full((len(repeats.birds), len(repeats.observers)), np.nan)
    table[bird, who] = mean
    return alike(table, level)


def _step(values: Floats, share: float) -> float:
    """Find the step of reading: the finest unit that more than a few values need."""
    units = typed_unit(values)
    return next((float(unit) for unit in np.unique(units) if (units <= unit).mean() >= share), 1.0)


def _digits(repeats: Repeats, declared: Declarations) -> Iterator[tuple[str, Preference]]:
    limits = declared.rules["digits"].limits
    share = float(declared.settings["practice.measuring.step_share"].value)
    for number, name in enumerate(repeats.observers):
        mine = (repeats.observer == number) & (repeats.values >= 0)
        unit = _step(repeats.values[mine], share)
        mine &= typed_unit(repeats.values) >= unit
        values = repeats.values[mine]
        if len(values) < limits["least_values"].value:
            continue
        # a balance marked in coarser steps never shows what lies between
        coarse = repeats.measure.unit == "g" and any(
            on_step(values, step * 1.0) >= limits["own_share"].value
            for step in limits["instrument_steps"].value
            if step > unit
        )
        # birds of one size have like last digits by nature
        if not coarse and np.std(values) / unit >= limits["least_spread_units"].value:
            yield name, preference(last_digits(values, unit), repeats.bird[mine])


def _odd_birds(made: Account, declared: Declarations) -> list[int]:
    chance, fewest, most = (
        declared.settings[f"practice.measuring.odd_{name}"].value for name in ("chance", "fewest", "most")
    )
    birds: set[int] = set()
    for pairs in made.comparisons:
        birds.update(
            pairs.birds[odd_pairs(pairs.difference, made.step, chance, fewest=fewest, most=most)].tolist()
        )
    return sorted(birds)

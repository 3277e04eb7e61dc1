"""What repeated measures tell, in plain sentences: the same on screen, page and in the notebook."""

from __future__ import annotations

from math import isinf, isnan
from typing import TYPE_CHECKING

from audit.review.wording import counted, listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.models.measurement_error import Error
    from audit.models.observer_bias import Bias
    from audit.practice.measuring.account import Account
    from audit.practice.measuring.taken import Measure

__all__ = [
    "bias_told",
    "bird_named",
    "error_told",
    "many_of",
    "number",
    "own_told",
    "person",
    "share",
    "signed",
    "spread_told",
    "within",
]

_ALL = 100  # percent
_MANY = {
    "wing_mm": ("wing length", "wings", "longer", "shorter"),
    "gross_g": ("gross mass", "gross masses", "heavier", "lighter"),
    "net_g": ("net mass", "net masses", "heavier", "lighter"),
    "tarsus_mm": ("tarsus length", "tarsi", "longer", "shorter"),
    "head_bill_mm": ("length of head and bill", "heads", "longer", "shorter"),
    "feather_mm": ("feather length", "feathers", "longer", "shorter"),
    "tail_mm": ("tail length", "tails", "longer", "shorter"),
}


def many_of(measure: Measure) -> tuple[str, str, str, str]:
    """Words of a measure: one, many, more, less."""
    name = measure.title
    return _MANY.get(measure.field, (name, f"values of {name}", "larger", "smaller"))


def person(name: str, *, first: bool = False) -> str:
    """Name an observer; `first` at the beginning of a sentence.

    Examples
    --------
    >>> person("AB", first=True), person(""), person("", first=True)
    ('AB', 'an unnamed person', 'An unnamed person')
    """
    return name or ("An unnamed person" if first else "an unnamed person")


def bird_named(bird: str, *, within: bool = False) -> str:
    """Name a bird, also one that has a mere number; `within` a sentence or at its start.

    Examples
    --------
    >>> bird_named("9"), bird_named("9", within=True), bird_named("SV00009")
    ('Bird 9', 'bird 9', 'SV00009')
    """
    if not bird[:1].isdecimal():
        return bird
    return f"bird {bird}" if within else f"Bird {bird}"


def number(value: float, step: float = 0.1) -> str:
    """Write a figure a digit finer than what was measured, without a sign for nought.

    Examples
    --------
    >>> number(1.4333, 1.0), number(-0.04, 1.0), number(0.237, 0.1)
    ('1.4', '0.0', '0.24')
    """
    decimals = 1 if step >= 1 else 2
    text = f"{value:,.{decimals}f}"
    return text.removeprefix("-") if not text.strip("-0.,") else text.replace("-", "\N{MINUS SIGN}")


def signed(value: float, step: float) -> str:
    """Write a difference with its sign.

    Examples
    --------
    >>> signed(1.4, 1.0), signed(-0.01, 1.0)
    ('+1.4', '0.0')
    """
    text = number(value, step)
    return f"+{text}" if value > 0 and text.strip("0.,") else text


def share(value: float) -> str:
    """Write a repeatability, which may lie below nought.

    Examples
    --------
    >>> share(0.98765), share(-0.1), share(-0.0001)
    ('0.988', '−0.100', '0.000')
    """
    text = f"{value:.3f}"
    return text.removeprefix("-") if not text.strip("-0.") else text.replace("-", "\N{MINUS SIGN}")


def within(low: float, high: float, step: float) -> str:
    """Write an interval."""
    return f"{number(low, step)} to {'any' if isinf(high) else number(high, step)}"


def spread_told(account: Account) -> Iterator[str]:
    """Say how far repeats of one bird lie apart, and what repeatability that makes."""
    measure, step, error = account.repeats.measure, account.step, account.error
    unit = measure.unit
    if error is None:
        return
    people = [person(name) for name in account.repeats.observers]
    yield (
        f"{counted(error.values, 'value')} of {counted(error.birds, 'bird')} measured again, by "
        f"{listed(people) if people != [person('')] else 'people who are not named'}."
    )
    yield from error_told(account)
    if len(account.repeats.observers) > 1:
        yield from (own_told(name, own, unit, step) for name, own in account.own)
    whole = account.repeatability
    if whole is not None:
        interval = f"{round(whole.level * _ALL)} % interval"
        if whole.value < 0:
            yield (
                "No repeatability is seen: repeats of a bird differ more than birds do (so it counts as 0; "
                f"{interval} up to {max(whole.high, 0.0):.3f})."
            )
        elif error.value:
            low, high = share(whole.low), share(whole.high)
            yield f"Repeatability is {whole.value:.3f} ({interval} {low} to {high})."


def error_told(account: Account) -> Iterator[str]:
    """Say how far any two measures of one bird lie apart."""
    error, step, unit = account.error, account.step, account.repeats.measure.unit
    one, many, *_ = many_of(account.repeats.measure)
    if error is None:
        return
    level = round(error.level * _ALL)
    if not error.value:
        yield (
            f"All repeats of a bird are equal: the error is smaller than a step of {step:g} {unit} can show, "
            "or second measures were written from memory."
        )
    else:
        relative = "" if isnan(error.relative) else f", {error.relative:.1f} % of the mean"
        yield (
            f"The technical error of one {one} is {number(error.value, step)} {unit} ({level} % interval "
            f"{within(error.low, error.high, step)}{relative}): two {many} of one bird differ by more than "
            f"{number(error.largest_difference, step)} {unit} once in twenty times."
        )


def own_told(name: str, own: Error, unit: str, step: float) -> str:
    """Say how far one person's own repeats lie apart."""
    who, birds = person(name, first=True), counted(own.birds, "bird")
    if not own.value:
        return (
            f"{who} alone repeats without any difference that a step of {step:g} {unit} can show ({birds})."
        )
    return (
        f"{who} alone repeats with an error of {number(own.value, step)} {unit} "
        f"({within(own.low, own.high, step)}; {birds})."
    )


def bias_told(account: Account, bias: Bias) -> str:
    """Say how much one observer measures more than others."""
    measure, step, names = account.repeats.measure, account.step, account.repeats.observers
    _, many, more, less = many_of(measure)
    who = person(names[bias.observer], first=True)
    whom = "those of the others" if bias.against < 0 else f"{person(names[bias.against])}'s"
    size = f"{number(abs(bias.value), step)} {measure.unit}"
    if bias.low == bias.high == 0:
        return f"{who}'s {many} and {whom} are equal on average ({counted(bias.birds, 'bird')})."
    low, high = bias.low, bias.high
    if low > 0 or high < 0:
        low, high = sorted((abs(low), abs(high)))
        return (
            f"{who}'s {many} are {size} {more if bias.value > 0 else less} than {whom} "
            f"({within(low, high, step)} {measure.unit}; {counted(bias.birds, 'bird')})."
        )
    return (
        f"Between {person(names[bias.observer])}'s {many} and {whom} no bias is sure "
        f"({signed(bias.value, step)} {measure.unit}, {signed(low, step)} to {signed(high, step)}; "
        f"{counted(bias.birds, 'bird')})."
    )

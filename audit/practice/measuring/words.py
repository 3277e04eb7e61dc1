"""What repeated measures tell, in plain sentences: the same on screen, page and in the notebook."""

from __future__ import annotations

from math import isinf, isnan
from typing import TYPE_CHECKING

from audit.practice.measuring.comparison import OTHERS
from audit.review.wording import counted, listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.models.limits_of_agreement import End
    from audit.models.measurement_error import Error
    from audit.models.observer_bias import Bias
    from audit.practice.measuring.account import Account
    from audit.practice.measuring.comparison import Comparison
    from audit.practice.measuring.standing_out import Odd
    from audit.practice.measuring.taken import Measure

__all__ = [
    "agreement_told",
    "bias_told",
    "bird_named",
    "many_of",
    "number",
    "odd_told",
    "person",
    "signed",
    "slope_told",
    "spread_told",
    "within",
    "without_told",
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
_SLIPS = {
    "digit": "with one wrong digit",
    "neighbours": "with two neighbouring digits exchanged",
    "jump": "with two digits exchanged",
    "twin": "with a pair of digits mistyped",
    "jump_twin": "with a pair of digits mistyped",
    "phonetic": "with a digit misheard",
    "dropped": "with a digit left out",
    "extra": "with a digit too many",
    "tenfold": "with the point in another place",
    "bag": "with the bag not subtracted",
    "sum": "as gross less bag says",
}


def many_of(measure: Measure) -> tuple[str, str, str, str]:
    """Words of a measure: one, many, more, less."""
    name = measure.title
    return _MANY.get(measure.field, (name, f"values of {name}", "larger", "smaller"))


def person(name: str) -> str:
    """Name an observer."""
    return name or "somebody not named"


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
        f"{listed(people) if people != [person('')] else 'one person'}."
    )
    yield from _error_told(account)
    if len(account.repeats.observers) > 1:
        yield from (_own_told(name, own, unit, step) for name, own in account.own)
    whole = account.repeatability
    if whole is not None:
        interval = f"{round(whole.level * _ALL)} % interval {whole.low:.3f} to {whole.high:.3f}"
        if whole.value < 0:
            yield (
                f"No repeatability is seen: repeats of a bird differ more than birds do (estimate "
                f"{whole.value:.3f}, which stands for nought; {interval})."
            )
        elif error.value:
            yield f"Repeatability is {whole.value:.3f} ({interval})."


def _error_told(account: Account) -> Iterator[str]:
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


def _own_told(name: str, own: Error, unit: str, step: float) -> str:
    return (
        f"{person(name)} alone repeats with an error of {number(own.value, step)} {unit} "
        f"({within(own.low, own.high, step)}; {counted(own.birds, 'bird')})."
    )


def bias_told(account: Account, bias: Bias) -> str:
    """Say how much one observer measures more than others."""
    measure, step, names = account.repeats.measure, account.step, account.repeats.observers
    _, many, more, less = many_of(measure)
    who = person(names[bias.observer])
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
        f"Between {who}'s {many} and {whom} no bias is sure ({signed(bias.value, step)} {measure.unit}, "
        f"{signed(low, step)} to {signed(high, step)}; {counted(bias.birds, 'bird')})."
    )


def agreement_told(account: Account, pairs: Comparison) -> Iterator[str]:
    """Say between which limits the differences of single birds lie."""
    step, unit = account.step, account.repeats.measure.unit
    limits = pairs.limits
    other = pairs.second if pairs.second != OTHERS else f"mean of {OTHERS}"
    what = (
        f"{person(pairs.first)} less {other}" if pairs.between_people else f"{pairs.who}, first less second"
    )
    lower, upper = (
        f"{signed(end.value, step)} {unit} ({_end(end, step)})" for end in (limits.lower, limits.upper)
    )
    if not limits.sd:
        yield f"{what}: all {limits.pairs} differences are {signed(limits.bias.value, step)} {unit}."
        return
    yield (
        f"{what}: {round(limits.share * _ALL)} % of the differences are expected between {lower} and "
        f"{upper}; {counted(limits.pairs, 'pair')}."
    )
    if pairs.who and (limits.bias.low > 0 or limits.bias.high < 0):
        more = "smaller" if limits.bias.value > 0 else "larger"
        yield (
            f"The second measures of {pairs.who} are {more} than the first by "
            f"{number(abs(limits.bias.value), step)} {unit} (first less second {_end(limits.bias, step)}): "
            "something changed between the rounds."
        )


def slope_told(account: Account, pairs: Comparison, slope_p: float) -> Iterator[str]:
    """Say whether the differences of two measures change with size."""
    unit = account.repeats.measure.unit
    slope = pairs.slope
    if slope is not None and slope.p_value < slope_p:
        way = "grows" if slope.value > 0 else "falls"
        yield (
            f"{pairs.first} less {pairs.second}: the difference {way} with size, by "
            f"{abs(slope.value) * _ALL:.1f} {unit} in {_ALL} {unit}. They differ in scale or in scatter, "
            "and one bias for all birds does not hold: look at the picture."
        )


def _end(end: End, step: float) -> str:
    return f"{signed(end.low, step)} to {signed(end.high, step)}"


def odd_told(account: Account, odd: Odd) -> str:
    """Say what stands out, and that a slip of the pen is likelier than a hand that measures so."""
    unit = account.repeats.measure.unit
    values = [
        f"{value:g} {unit} by {person(who)} ({place})" if who else f"{value:g} {unit} ({place})"
        for value, who, place in zip(odd.values, odd.observers, odd.places, strict=True)
    ]
    told = [
        f"{slip.typed:g} may be {slip.meant:g} {unit} {_SLIPS.get(slip.kind, 'with a slip of the pen')}"
        for slip in odd.slips
    ]
    why = f"; {', or '.join(told)}" if told else ""
    if len(values) > 2:  # noqa: PLR2004 - of two values either may be the wrong one
        rest = [value for place, value in enumerate(odd.values) if place != odd.far]
        others = f"the other {len(rest)} values lie between {min(rest):g} and {max(rest):g} {unit}"
        return f"{bird_named(odd.bird)}: {values[odd.far]}, where {others}{why}. Look at the field sheet."
    return f"{bird_named(odd.bird)}: {listed(values)}{why}. Look at the field sheet."


def without_told(account: Account, slope_p: float) -> Iterator[str]:
    """Say what would be without the birds that stand out."""
    rest = account.without_odd
    if rest is None:
        return
    names = listed([bird_named(one.bird, within=True) for one in account.odd])
    unit, step = rest.repeats.measure.unit, rest.step
    told = [*(bias_told(rest, bias) for bias in rest.biases), *_error_told(rest)]
    if len(rest.repeats.observers) > 1:
        told += [_own_told(name, own, unit, step) for name, own in rest.own]
    told += [said for pairs in rest.comparisons for said in slope_told(rest, pairs, slope_p)]
    yield f"Without {names}: {' '.join(told)}" if told else f"Without {names} nothing is left to compare."

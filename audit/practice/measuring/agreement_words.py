"""How far two measures of the same birds lie apart, in plain sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.practice.measuring.comparison import OTHERS
from audit.practice.measuring.words import number, person, signed
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.models.limits_of_agreement import End
    from audit.practice.measuring.account import Account
    from audit.practice.measuring.comparison import Comparison

__all__ = ["agreement_told", "slope_told"]

_ALL = 100  # percent


def agreement_told(account: Account, pairs: Comparison) -> Iterator[str]:
    """Say between which limits the differences of single birds lie.

    Of one person's own repeats the error is told elsewhere, and the limits only where nobody else measured.
    """
    if pairs.between_people or not any(one.between_people for one in account.comparisons):
        yield _limits_told(account, pairs)
    bias = pairs.limits.bias
    if pairs.who and (bias.low > 0 or bias.high < 0):
        more, step = "smaller" if bias.value > 0 else "larger", account.step
        yield (
            f"The second measures of {pairs.who} are {more} than the first by "
            f"{number(abs(bias.value), step)} {account.repeats.measure.unit} (first less second "
            f"{_end(bias, step)}): something changed between the rounds."
        )


def _limits_told(account: Account, pairs: Comparison) -> str:
    step, unit, limits = account.step, account.repeats.measure.unit, pairs.limits
    other = person(pairs.second) if pairs.second != OTHERS else f"mean of {OTHERS}"
    whose = f"{pairs.who[0].upper()}{pairs.who[1:]}" if pairs.who else ""
    what = f"{whose}, first less second" if whose else f"{person(pairs.first, first=True)} less {other}"
    if not limits.sd:
        return f"{what}: all {limits.pairs} differences are {signed(limits.bias.value, step)} {unit}."
    lower, upper = (
        f"{signed(end.value, step)} {unit} ({_end(end, step)})" for end in (limits.lower, limits.upper)
    )
    return (
        f"{what}: {round(limits.share * _ALL)} % of the differences are expected between {lower} and "
        f"{upper}; {counted(limits.pairs, 'pair')}."
    )


def slope_told(account: Account, pairs: Comparison, slope_p: float) -> Iterator[str]:
    """Say whether the differences of two measures change with size."""
    unit = account.repeats.measure.unit
    slope = pairs.slope
    if slope is not None and slope.p_value < slope_p:
        way = "grows" if slope.value > 0 else "falls"
        first = f"{pairs.who}, first" if pairs.who else person(pairs.first, first=True)
        yield (
            f"{first[0].upper()}{first[1:]} less {person(pairs.second)}: the difference {way} with size, by "
            f"{abs(slope.value) * _ALL:.1f} {unit} in {_ALL} {unit}. They differ in scale or in scatter, "
            "and one bias for all birds does not hold: look at the picture."
        )


def _end(end: End, step: float) -> str:
    return f"{signed(end.low, step)} to {signed(end.high, step)}"

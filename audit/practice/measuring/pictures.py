"""The pictures of repeated measures."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.charts import agreement, last_digits, observer_bias
from audit.charts import repeats as repeats_chart
from audit.charts.living import Living
from audit.practice.measuring.comparison import OTHERS
from audit.practice.measuring.words import person

if TYPE_CHECKING:
    from audit.practice.measuring.account import Account

__all__ = ["differences", "digits", "observer_biases", "repeats"]


def differences(account: Account, number: int = 0, aside: str = "") -> Living:
    """Draw one comparison; `aside` says which birds are left aside."""
    if not 0 <= number < len(account.comparisons):
        return Living(None, "No three birds were measured twice, so there are no limits to draw.")
    pairs = account.comparisons[number]
    odd = {one.bird for one in account.odd}
    names = [account.repeats.birds[bird] for bird in pairs.birds.tolist()]
    first, second = pairs.first, pairs.second
    if pairs.between_people:
        first, second = person(first), second if second == OTHERS else person(second)
    shown = agreement.Pairs(
        f"{_what(account) if pairs.between_people else f'{_what(account)}, {pairs.who}'}{aside}",
        first,
        second,
        account.repeats.measure.unit,
        names,
        pairs.a,
        pairs.b,
        [name in odd for name in names],
        pairs.limits,
    )
    return Living(agreement.chart(shown))


def repeats(account: Account) -> Living:
    """Draw how far the repeats of each bird lie apart."""
    laid = account.repeats
    drawn = repeats_chart.chart(
        _what(account), laid.measure.unit, laid.values, laid.bird, laid.observer, laid.birds, laid.observers
    )
    return Living(drawn, "No bird was measured twice.")


def observer_biases(account: Account) -> Living:
    """Draw who measures more, who less than the others."""
    names = account.repeats.observers
    leans = [
        observer_bias.Lean(
            f"{person(names[bias.observer])} against "
            f"{OTHERS if bias.against < 0 else person(names[bias.against])}",
            bias.value,
            bias.low,
            bias.high,
        )
        for bias in account.biases
    ]
    drawn = observer_bias.chart(_what(account), account.repeats.measure.unit, leans, account.goals.bias)
    return Living(drawn, "No two people measured enough of the same birds.")


def digits(account: Account, observer: str = "") -> Living:
    """Draw how often an observer writes each last digit; by default the first with enough values."""
    for name, found in account.digits:
        if observer in ("", name):
            return Living(last_digits.chart(_what(account), person(name), found.counts))
    return Living(None, "Too few values for their last digits to tell anything.")


def _what(account: Account) -> str:
    return account.repeats.measure.title

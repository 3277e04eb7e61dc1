"""Birds that stand out, and what would be without them, in plain sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.practice.measuring.agreement_words import slope_told
from audit.practice.measuring.words import bias_told, bird_named, error_told, own_told, person
from audit.review.wording import listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.practice.measuring.account import Account
    from audit.practice.measuring.standing_out import Odd

__all__ = ["odd_told", "without_told"]

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
    told = [*(bias_told(rest, bias) for bias in rest.biases), *error_told(rest)]
    if len(rest.repeats.observers) > 1:
        told += [own_told(name, own, unit, step) for name, own in rest.own]
    told += [said for pairs in rest.comparisons for said in slope_told(rest, pairs, slope_p)]
    yield f"Without {names}: {' '.join(told)}" if told else f"Without {names} nothing is left to compare."

"""What to practise, by what the repeats of one measure tell and what is aimed at."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np

from audit.practice.measuring.words import bias_told, many_of, number, person
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.declarations import Declarations
    from audit.models.digits import Preference
    from audit.models.measurement_error import Error
    from audit.models.observer_bias import Bias
    from audit.practice.measuring.account import Account

__all__ = ["Reached", "advice", "beyond_goal", "is_favoured", "reached", "unsteady", "verdicts"]

Reached = Literal["reached", "missed", "not sure yet"]

_SLIPS = "First look up on the field sheet what stands out: a slip of the pen is mended, not practised."
_FIVE = 5
_TEN = 10
_EQUAL_ENOUGH = 3
#: Why measures of one kind run high or low: usual faults of the trade. Of wings: network protocol of a
#: ringing handbook, read; of masses and all others common practice.
_LONG = {
    "wing_mm": "A wing reads too long where the carpal joint does not touch the stop of the rule",
    "net_g": "A mass reads too high where the bag is fouled or not taken off, or the balance not at nought",
    "gross_g": "A mass reads too high where the balance was not set to nought or something touches the bag",
}
_SHORT = {
    "wing_mm": "too short where it is not quite flattened and straightened",
    "net_g": "too low where bird or bag rest on something, or are read before the pointer stands still",
    "gross_g": "too low where the bag rests on something, or is read before the pointer stands still",
}
_SAME = {
    "wing_mm": "Lay the same wing the same way each time, look straight down on the rule, and read to the "
    "millimetre",
    "net_g": "Set the balance to nought before each bird, wait until it is still, weigh the bag each time",
    "gross_g": "Set the balance to nought before each bird, and wait until the bird is still",
}
_ELSE = "Agree on where the tool is put and how it is read, and do it the same way each time"


def reached(low: float, high: float, goal: float) -> Reached:
    """Say whether a figure is at most a goal, as far as its interval tells.

    Examples
    --------
    >>> reached(0.5, 1.2, 1.5), reached(1.7, 2.4, 1.5), reached(1.2, 1.9, 1.5)
    ('reached', 'missed', 'not sure yet')
    """
    if high <= goal:
        return "reached"
    return "missed" if low > goal else "not sure yet"


def verdicts(account: Account) -> Iterator[tuple[str, Reached]]:
    """Hold every figure against its goal, birds that stand out left aside."""
    account = account.without_odd or account
    goals, step, unit = account.goals, account.step, account.repeats.measure.unit
    names = account.repeats.observers
    if goals.error is not None and account.error is not None:
        aim = f"{number(goals.error, step)} {unit}"
        own = account.own or (("", account.error),)
        for name, error in own:
            whose = f"error of {name}" if name and account.own else "error of one measure"
            # repeats that never differ set no upper end: three such are rare if errors are a step wide
            high = step if not error.value and error.dof >= _EQUAL_ENOUGH else error.high
            yield f"{whose} at most {aim}", reached(error.low, high, goals.error)
    if goals.bias is not None:
        aim = f"{number(goals.bias, step)} {unit}"
        for bias in account.biases:
            whom = "the others" if bias.against < 0 else person(names[bias.against])
            far = max(abs(bias.low), abs(bias.high))
            near = 0.0 if bias.low <= 0 <= bias.high else min(abs(bias.low), abs(bias.high))
            yield (
                f"bias of {person(names[bias.observer])} against {whom} within {aim}",
                reached(near, far, goals.bias),
            )
    whole = account.repeatability
    if whole is not None:
        yield (
            f"repeatability at least {goals.repeatability:g}",
            reached(1 - whole.high, 1 - whole.low, 1 - goals.repeatability),
        )


def advice(account: Account, declared: Declarations) -> tuple[str, ...]:
    """Say what to practise; one sentence or two for each point, the most important first."""
    told = tuple(_advice(account, declared))
    many = many_of(account.repeats.measure)[1]
    if not told:
        return (f"Nothing: all goals for {many} are reached.",)
    return (*told, f"Beside that nothing: all goals for {many} are reached.") if told == (_SLIPS,) else told


def _advice(account: Account, declared: Declarations) -> Iterator[str]:
    if account.error is None:
        yield "Measure each bird twice, or let two people measure it: single measures tell nothing of error."
        return
    if account.odd:
        yield _SLIPS
    yield from _hands(account.without_odd or account, declared)


def _hands(account: Account, declared: Declarations) -> Iterator[str]:
    """Say what the hands should practise; slips of the pen are left aside."""
    field, many = account.repeats.measure.field, many_of(account.repeats.measure)[1]
    least = int(declared.settings["practice.measuring.birds_least"].value)
    goals, step, unit = account.goals, account.step, account.repeats.measure.unit
    if account.error is None:
        return
    if account.error.birds < int(declared.settings["practice.measuring.birds_fewest"].value):
        yield _first_look(account.error.birds, least)
        return
    if not account.error.value:
        yield (
            "All repeats are equal: before that is trusted, measure the same birds once more with nobody "
            "seeing what was written before."
        )
    for bias in beyond_goal(account):
        yield _bias_advice(account, bias)
    for name, error in unsteady(account):
        far = "lie" if reached(error.low, error.high, goals.error or 0.0) == "missed" else "may lie"
        who = person(name, first=True) if account.own else "Everybody"
        yield f"{who}: the repeats {far} too far apart. {_SAME.get(field, _ELSE)}."
    for name, found in account.digits:
        if is_favoured(found, declared):
            yield _digits_told(name, found, many)
    yield from _repeats_told(account, declared)
    if account.error.birds < least:
        yield _first_look(account.error.birds, least)
    open_ones = [what for what, how in verdicts(account) if how == "not sure yet"]
    if open_ones and account.error.birds >= least:
        yield f"Not sure yet: {'; '.join(open_ones)}. More birds would tell."
    if goals.error is None and unit:
        yield (
            f"No goal is declared for {many}: hold the error of {number(account.error.value, step)} {unit} "
            "against the differences that matter to you."
        )


def _bias_advice(account: Account, bias: Bias) -> str:
    field = account.repeats.measure.field
    _, many, more, less = many_of(account.repeats.measure)
    told = bias_told(account, bias).removesuffix(".")
    told += ": measure the same few birds side by side until both read alike."
    if field in _LONG:
        whose = f"{person(account.repeats.observers[bias.observer])}'s {many}"
        told += f" {_LONG[field]}, {_SHORT[field]}: {whose} are the {more if bias.value > 0 else less} ones."
    return told


def _first_look(birds: int, least: int) -> str:
    verb = "is" if birds == 1 else "are"
    return (
        f"{counted(birds, 'bird')} measured again {verb} a first look: with {least} or more the figures "
        "can be relied on."
    )


def beyond_goal(account: Account) -> Iterator[Bias]:
    """Give the biases that are sure, and larger than is aimed at where anything is."""
    goal = account.goals.bias
    for bias in account.biases:
        if (bias.low > 0 or bias.high < 0) and (goal is None or abs(bias.value) > goal):
            yield bias


def unsteady(account: Account) -> Iterator[tuple[str, Error]]:
    """Give those whose own repeats lie farther apart than is aimed at; '' stands for everybody.

    Where people measured once each, the bias between them is taken out first.
    """
    goal = account.goals.error
    if goal is None or account.error is None:
        return
    for name, error in account.own or (("", account.error),):
        alone = error.value if account.own or not account.biases else account.biases[0].error
        if alone > goal:
            yield name, error


def is_favoured(found: Preference, declared: Declarations) -> bool:
    """Whether an observer favours last digits, by the limits of the audit's own rule."""
    limits = declared.rules["digits"].limits
    return bool(found.p_value < limits["p_value"].value and found.index >= limits["least_index"].value)


def _digits_told(name: str, found: Preference, many: str) -> str:
    zero_or_five = found.counts[0] + found.counts[_FIVE]
    most = int(np.argmax(found.counts))
    fives = zero_or_five > found.n * 2 / _TEN
    ends, times = ("0 or 5", zero_or_five) if fives else (str(most), found.counts[most])
    usual = found.n * (2 if fives else 1) / _TEN
    return (
        f"{person(name, first=True)}: of {found.n} {many}, {times} end in {ends} where about {usual:.0f} "
        "would be expected. Read the last digit as it stands, without rounding."
    )


def _repeats_told(account: Account, declared: Declarations) -> Iterator[str]:
    goals, whole = account.goals, account.repeatability
    most = int(declared.settings["practice.measuring.most_repeats"].value)
    if whole is not None and account.needed_for_repeatability is None:
        yield (
            "Repeats differ more than birds do, and averaging them makes up for nothing: practise the hand, "
            "and on birds of different size."
        )
        return
    needs = []
    # what one person measures more than others does not go by averaging that person's measures
    by = " by different people" if len(account.repeats.observers) > 1 else ""
    if account.needed_for_error is not None and account.needed_for_error > 1 and goals.error is not None:
        needs.append(
            f"{counted(account.needed_for_error, 'measure')} of a bird{by}, averaged, bring the error down "
            f"to {number(goals.error, account.step)} {account.repeats.measure.unit}"
        )
    if whole is not None and whole.value < goals.repeatability:
        needs.append(
            f"{counted(account.needed_for_repeatability or 0, 'measure')} of a bird{by}, averaged, have a "
            f"repeatability of {goals.repeatability:g}"
        )
    if needs:
        numbers = [n for n in (account.needed_for_error, account.needed_for_repeatability) if n is not None]
        told = "; ".join(needs)
        hand = f" That is more than a living bird should bear: practise the hand instead (at most {most})."
        yield f"{told[0].upper()}{told[1:]}.{hand if max(numbers, default=0) > most else ''}"

"""How likely a ring, a tag or a label becomes another one in the hand, the eye or a spreadsheet."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.spelling import forerunners, pattern_of
from audit.models.spreadsheet_code import next_code, rounded, scientific

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.models.keying import Channel

__all__ = ["DIGITS", "LETTERS", "code_chances", "codes_before"]

_TEN = 10
_TWO = 2
DIGITS = "0123456789"
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
#: Code points of Unicode: those that are neither digit nor capital letter share what is left.
_SIGNS = 0x110000


def code_chances(channel: Channel, typed: str, meant: str, above: str | None) -> dict[str, float]:
    """Give the probability of a typed code by kind of slip, given what was meant and what stands above."""
    if typed == meant or not meant:
        return {}
    hand = channel.hand
    chances = {name: hand * channel.codes[name] * chance for name, chance in _by_hand(channel, typed, meant)}
    chances["unknown"] = hand * channel.codes["unknown"] * _any_code(channel, typed, meant)
    chances["look_alike"] = channel.habits["look_alike"] * _misread(channel, typed, meant)
    if meant.isdigit() and meant.isascii():
        if meant[0] == "0" and typed == (meant.lstrip("0") or "0"):
            chances["zeros_lost"] = channel.habits["zeros_lost"]
        if typed == rounded(meant):
            chances["rounded"] = channel.habits["rounded"]
        forms = scientific(meant)
        if typed in forms:
            chances["scientific"] = channel.habits["scientific"] / len(forms)
    if above is not None:
        chances["copied"] = channel.habits["copied"] * (typed == above)
        chances["filled"] = channel.habits["filled"] * (typed == next_code(above))
    return chances


def codes_before(channel: Channel, typed: str, signs: str) -> set[str]:
    """Codes that one slip of the hand turns into this one."""
    beside = "".join(sorted(set(typed) - set(signs)))
    misread = {typed.replace(sign, other) for sign in set(typed) for other in channel.partners.get(sign, ())}
    return (forerunners(typed, signs + beside) | misread) - {""}


def _by_hand(channel: Channel, typed: str, meant: str) -> Iterator[tuple[str, float]]:
    n = len(meant)
    longer = len(typed) - n
    if longer == 0:
        yield from _same_length(channel, typed, meant)
    elif longer == -1:
        yield "dropped", len(_without(meant, typed)) / n
    elif longer == 1:
        places = _without(typed, meant)
        doubled = sum(1 for i in places if i > 0 and typed[i] == typed[i - 1])
        put_in = sum(_like(channel, typed[i], meant[max(i - 1, 0)]) for i in places)
        yield "extra", (doubled / n + put_in / (n + 1)) / 2
    elif longer == -_TWO and n > _TWO:
        yield "two_edits", len(_without_two(meant, typed)) / _pairs_of(n) / _TWO / 2
    elif longer == _TWO:
        ways = sum(
            _like(channel, typed[i], meant[min(max(i - 1, 0), n - 1)])
            * _like(channel, typed[j], meant[min(max(j - 2, 0), n - 1)])
            for i, j in _without_two(typed, meant)
        )
        yield "two_edits", ways / _pairs_of(n + _TWO) / _TWO / 2


def _same_length(channel: Channel, typed: str, meant: str) -> Iterator[tuple[str, float]]:
    n = len(meant)
    apart = [i for i, (m, t) in enumerate(zip(meant, typed, strict=True)) if m != t]
    if len(apart) == 1:
        yield "digit", _swap(channel, meant[apart[0]], typed[apart[0]]) / n
    if len(apart) != _TWO:
        return
    i, j = apart
    swap = _swap(channel, meant[i], typed[i])
    pattern = pattern_of(meant[i] + meant[j], typed[i] + typed[j], j - i)
    if pattern:
        chance = swap if pattern in ("twin", "jump_twin") else 1.0
        yield pattern, chance / (n - (j - i))
    yield "two_edits", swap * _swap(channel, meant[j], typed[j]) / _pairs_of(n) / 2


def _swap(channel: Channel, meant: str, typed: str) -> float:
    """Probability of a wrong character, given that the meant one went wrong."""
    if meant in DIGITS and typed in DIGITS:
        return (1 - channel.other_class) * float(channel.swaps[int(meant), int(typed)])
    if meant in LETTERS and typed in LETTERS:
        return (1 - channel.other_class) / (len(LETTERS) - 1)
    return _foreign(channel, meant, typed)


def _like(channel: Channel, typed: str, beside: str) -> float:
    """Probability of a character that was put in beside another."""
    for kin in (DIGITS, LETTERS):
        if beside in kin and typed in kin:
            return (1 - channel.other_class) / len(kin)
    return _foreign(channel, beside, typed)


def _foreign(channel: Channel, meant: str, typed: str) -> float:
    """Probability of a character of another class than the one meant."""
    other = LETTERS if meant in DIGITS else DIGITS if meant in LETTERS else DIGITS + LETTERS
    share = channel.other_class if meant in DIGITS + LETTERS else 1.0
    if typed in other:
        return share * (1 - channel.other_sign) / len(other)
    return share * channel.other_sign / _SIGNS


def _any_code(channel: Channel, typed: str, meant: str) -> float:
    """Probability of a code that came from nowhere, likely as long as the meant one and of like signs."""
    both = typed + meant
    if len(typed) == len(meant) and both.isascii() and both.isdigit():
        signs = ((1 - channel.other_class) / _TEN) ** len(typed)
    else:
        last = len(meant) - 1
        signs = float(np.prod([_like(channel, sign, meant[min(i, last)]) for i, sign in enumerate(typed)]))
    thirds = 1 / (_TWO + 1)
    return thirds * 2.0 ** -abs(len(typed) - len(meant)) * signs


def _misread(channel: Channel, typed: str, meant: str) -> float:
    """Probability that letters and digits that look alike were confused: one, or all of a kind."""
    if len(typed) != len(meant):
        return 0.0
    apart = [i for i, (m, t) in enumerate(zip(meant, typed, strict=True)) if m != t]
    made = {(meant[i], typed[i]) for i in apart}
    partners = channel.partners
    if len(made) != 1:
        return 0.0
    sign, taken_for = made.pop()
    if taken_for not in partners.get(sign, ()):
        return 0.0
    open_places = [other for other in meant if other in partners]
    one = (len(apart) == 1) / len(open_places)
    # who writes every nought as the letter has no such letter beside them
    every = len(apart) == meant.count(sign) and taken_for not in meant
    return (one + every / len(set(open_places))) / 2 / len(partners[sign])


def _without(longer: str, shorter: str) -> list[int]:
    """Places where a character can be taken out of one text to leave another."""
    return [i for i in range(len(longer)) if longer[:i] + longer[i + 1 :] == shorter]


def _without_two(longer: str, shorter: str) -> list[tuple[int, int]]:
    """Pairs of places where characters can be taken out of one text to leave another."""
    return [
        (i, j)
        for i in range(len(longer))
        # what stands in front must be alike
        if longer[:i] == shorter[:i]
        for j in range(i + 1, len(longer))
        if longer[i + 1 : j] == shorter[i : j - 1] and longer[j + 1 :] == shorter[j - 1 :]
    ]


def _pairs_of(n: int) -> float:
    return n * (n - 1) / 2

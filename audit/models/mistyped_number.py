"""How likely a number becomes another one in the hand, whole columns at once."""

from __future__ import annotations

from itertools import islice
from typing import TYPE_CHECKING

import numpy as np

from audit.models.slip_kinds import KINDS, ONE_SLIP, PATTERNS
from audit.models.spelling import forerunners
from audit.models.written_number import equal, slack, typed_unit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.models.keying import Channel

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["numbers", "numbers_before"]

_TEN = 10
_TWO = 2
_GRAMS_PER_KG = 1000.0
#: Seven digits hold a mass of 99 kg to the hundredth of a gram.
_WIDTH = 7
_DIGITS = "0123456789"


def numbers(
    channel: Channel, typed: Floats, meant: Floats, unit: Floats, above: Floats | None = None
) -> Floats:
    """Give the probability of each way in which a number becomes the typed one: see `Channel.numbers`."""
    usable = np.isfinite(typed) & np.isfinite(meant) & (meant >= 0) & (typed >= 0)
    m, whole_m = _whole(meant, unit, usable)
    t, whole_t = _whole(typed, unit, usable)
    different = usable & (np.abs(np.where(usable, typed - meant, 0.0)) > np.where(whole_t, unit / 2, 0.0))
    chance = np.zeros((len(typed), len(KINDS)))
    written = different & whole_m & whole_t
    chance[written, : len(PATTERNS) + 1] = _mistyped(channel, t[written], m[written])
    out_by_ten = equal(typed * _TEN, meant) | equal(typed, meant * _TEN)
    chance[:, KINDS.index("tenfold")] = channel.tenfold * out_by_ten / 2
    chance[:, KINDS.index("kilograms")] = channel.kilograms * equal(typed * _GRAMS_PER_KG, meant)
    chance[:, KINDS.index("unknown")] = _for_no_reason(channel, np.where(usable, typed, 0.0), unit, whole_t)
    if above is not None:
        chance[:, KINDS.index("copied")] = channel.copied * equal(typed, above)
    # a number is not mistyped into itself
    chance[~different] = 0.0
    return chance


def _mistyped(channel: Channel, t: Ints, m: Ints) -> Floats:
    """Chances of the patterns and of two edits, for whole numbers of units: shape (n, patterns + 1)."""
    length_m, length_t = _length(m), _length(t)
    length = length_m.astype(np.float64)
    powers = _TEN ** np.arange(_WIDTH + 1, dtype=np.int64)
    digits_m = (m[:, None] // powers[None, :_WIDTH]) % _TEN
    digits_t = (t[:, None] // powers[None, :_WIDTH]) % _TEN
    differs = digits_m != digits_t
    n_differ = np.where(length_m == length_t, differs.sum(axis=1), -1)
    two = n_differ == _TWO
    swapped = np.where(differs, channel.swaps[digits_m, digits_t], 1.0).prod(axis=1)
    pairs, jumps = np.maximum(length - 1, 1), np.maximum(length - 2, 1)

    def placed(step: int, holds: Flags) -> Flags:
        """Whether the two wrong digits stand `step` places apart, and it holds there."""
        found: Flags = two & (differs[:, :-step] & differs[:, step:] & holds).any(axis=1)
        return found

    def turned(step: int) -> Flags:
        crossed = (digits_m[:, :-step] == digits_t[:, step:]) & (digits_m[:, step:] == digits_t[:, :-step])
        return placed(step, crossed)

    def alike(step: int) -> Flags:
        both = (digits_m[:, :-step] == digits_m[:, step:]) & (digits_t[:, :-step] == digits_t[:, step:])
        return placed(step, both)

    spoken = _spoken(digits_m, digits_t) | _spoken(digits_t, digits_m)
    lost, _ = _deletions(m, length_m, powers, t)
    gained, doubled = _deletions(t, length_t, powers, m)
    # a digit lost in front may leave a nought behind (105, 05), but nobody means 01
    gained, doubled = (np.where(length_t == length_m + 1, ways, 0) for ways in (gained, doubled))
    combinations = np.maximum(length * (length - 1) / 2, 1)
    # both digits of a twin are the same, so that the square root is the chance of one
    twin_digit = np.sqrt(swapped)
    ways = {
        "digit": (n_differ == 1) * swapped / length,
        "neighbours": turned(1) / pairs,
        "dropped": lost / length,
        "extra": (doubled / length + gained / (_TEN * (length + 1))) / 2,
        "jump": turned(2) / jumps,
        "twin": alike(1) * twin_digit / pairs,
        "jump_twin": alike(2) * twin_digit / jumps,
        "phonetic": placed(1, spoken) / pairs,
        "two_edits": two * swapped / combinations,
    }
    return np.stack([channel.keyed * channel.codes[name] * chance for name, chance in ways.items()], axis=1)


def _for_no_reason(channel: Channel, typed: Floats, unit: Floats, whole: Flags) -> Floats:
    """Chance of a number that came from nowhere: flat up to the span, then falling with its square."""
    beyond = np.maximum(typed / channel.span_g, 1.0)
    density = 1 / (2 * channel.span_g * beyond**2)
    step = unit
    usual: Floats = np.full(len(typed), 1 - channel.odd_step)
    if not whole.all():
        step = np.where(whole, unit, typed_unit(typed) / _TEN)
        usual = np.where(whole, 1 - channel.odd_step, channel.odd_step)
    found: Floats = channel.keyed * channel.codes["unknown"] * usual * np.minimum(density * step, 1.0)
    return found


def numbers_before(
    channel: Channel, asked: Sequence[tuple[float, float]]
) -> list[list[tuple[float, str, float]]]:
    """List the numbers that one slip turns into each typed one, with kind and chance, the likeliest first.

    Parameters
    ----------
    asked : sequence of (float, float)
        Typed numbers and their units: worked out together, since each asking costs more than many numbers.
    """
    before = [_near(typed, unit) for typed, unit in asked]
    many = [len(values) for values in before]
    typed, unit = np.repeat(np.array(asked, dtype=np.float64).reshape(-1, _TWO), many, axis=0).T
    meant = np.array([value for values in before for value in values])
    chances = numbers(channel, typed, meant, unit)
    best = chances.argmax(axis=1).tolist()
    one_slip = [KINDS.index(name) for name in ONE_SLIP if name in KINDS]
    near: list[bool] = np.any(chances[:, one_slip], axis=1).tolist()
    of_all = zip(meant.tolist(), best, chances.sum(axis=1).tolist(), near, strict=True)
    found = []
    for count in many:
        some = [(value, KINDS[kind], chance) for value, kind, chance, fits in islice(of_all, count) if fits]
        found.append(sorted(some, key=lambda one: (-one[2], one[0])))
    return found


def _near(typed: float, unit: float) -> list[float]:
    """List what may lie one slip before a number, and some that does not."""
    digits = str(int(_whole(np.array([typed]), np.array([unit]), np.array([True]))[0][0]))
    values = {int(text) * unit for text in forerunners(digits, _DIGITS) if text}
    # a digit lost in front of noughts leaves a smaller number
    values |= {
        (int(digit) * _TEN**places + int(digits)) * unit
        for places in range(len(digits), _WIDTH)
        for digit in _DIGITS[1:]
    }
    values |= {typed * _TEN, typed / _TEN, typed * _GRAMS_PER_KG}
    return sorted({round(value, _WIDTH) for value in values})


def _whole(values: Floats, unit: Floats, usable: Flags) -> tuple[Ints, Flags]:
    """How many units a number is, and whether it is a whole number of them that has few enough digits."""
    ratio = np.where(usable, values, 0.0) / unit
    nearest = np.rint(ratio)
    whole: Flags = usable & (np.abs(ratio - nearest) <= slack(ratio)) & (nearest < float(_TEN**_WIDTH))
    return np.where(whole, nearest, 0.0).astype(np.int64), whole


def _length(numbers: Ints) -> Ints:
    found = np.ones(len(numbers), dtype=np.int64)
    for k in range(1, _WIDTH):
        found += numbers >= _TEN**k
    return found


def _spoken(tens: Ints, teens: Ints) -> Flags:
    """Where a ten, such as 30, stands in one number and its teen, 13, in the other; unit digits first."""
    ten = (tens[:, 1:] >= _TWO) & (tens[:, :-1] == 0)
    found: Flags = ten & (teens[:, 1:] == 1) & (teens[:, :-1] == tens[:, 1:])
    return found


def _deletions(longer: Ints, length: Ints, powers: Ints, shorter: Ints) -> tuple[Ints, Ints]:
    """Count the places where a digit can be taken out of one number to leave another, and doubled digits."""
    ways = np.zeros(len(longer), dtype=np.int64)
    doubled = np.zeros(len(longer), dtype=np.int64)
    for k in range(_WIDTH):
        left = longer // powers[k + 1]
        gone = (k < length) & (left * powers[k] + longer % powers[k] == shorter)
        digit = (longer // powers[k]) % _TEN
        ways += gone
        doubled += gone & (k + 1 < length) & (left % _TEN == digit)
    return ways, doubled

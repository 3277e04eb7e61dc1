"""Slips of the hand in numbers: how likely a meant number becomes the typed one.

Works on whole columns at once; for codes see the module on spelling.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["KINDS", "KeyingShares", "close", "keying", "slack", "tidy", "typed_unit"]

#: How one typed number can come from another. The last three need to be known from outside the number.
KINDS: tuple[str, ...] = (
    "digit",
    "neighbours",
    "dropped",
    "extra",
    "pattern",
    "two_edits",
    "tenfold",
    "kilograms",
    "unknown",
    "copied",
    "borrow",
)

_TEN = 10
_TWO = 2
_GRAMS_PER_KG = 1000.0
#: Seven digits hold a mass of 99 kg to the hundredth of a gram.
_WIDTH = 7
_MOST_DECIMALS = 2


@dataclass(frozen=True, slots=True)
class KeyingShares:
    """How often each slip in a number happens: all values come from the declarations.

    Attributes
    ----------
    keyed, tenfold, kilograms : float
        Share of slips that are a mistyped number; a decimal point or last zero; kilograms for grams.
    digit, neighbours, dropped, extra, pattern, two_edits, unknown : float
        Of mistyped numbers: one digit wrong; two neighbours exchanged; digit lost; digit too many; twins and
        jumps; two edits; any other number.
    span_g : float
        Width of the range in which a number wrong for no known reason may lie.
    """

    keyed: float
    tenfold: float
    kilograms: float
    digit: float
    neighbours: float
    dropped: float
    extra: float
    pattern: float
    two_edits: float
    unknown: float
    span_g: float


def keying(typed: Floats, meant: Floats, unit: Floats, shares: KeyingShares) -> Floats:
    """Probability of each way in which a meant number becomes the typed one.

    Parameters
    ----------
    typed, meant : ndarray, shape (n,)
        Numbers; NaN where missing.
    unit : ndarray, shape (n,)
        Unit of the last digit.
    shares : KeyingShares
        How often each slip happens.

    Returns
    -------
    ndarray, shape (n, len(KINDS))
        Probability of the typed number, given the meant one and a slip, by kind; the kinds ``copied`` and
        ``borrow`` are left at 0. All 0 where a number is missing, negative or equal to the other.

    References
    ----------
    Damerau, F. J. (1964). A technique for computer detection and correction of spelling errors.
    Communications of the ACM 7(3), 171-176: the single slips.
    Kernighan, M. D., Church, K. W. & Gale, W. A. (1990). A spelling correction program based on a noisy
    channel model. COLING 1990, 205-210: a channel of slips with their own probabilities.

    Examples
    --------
    >>> import numpy as np
    >>> shares = KeyingShares(1, 0, 0, 0.72, 0.11, 0.055, 0.055, 0.03, 0.02, 0.01, 500)
    >>> p = keying(np.array([378.0, 337.0]), np.array([373.0, 373.0]), np.ones(2), shares)
    >>> [KINDS[k] for k in p.argmax(axis=1)]
    ['digit', 'neighbours']
    """
    usable = np.isfinite(typed) & np.isfinite(meant) & (meant >= 0) & (typed >= 0)
    m, t = _whole(meant, unit, usable), _whole(typed, unit, usable)
    length_m, length_t = _length(m), _length(t)
    length = length_m.astype(np.float64)
    powers = _TEN ** np.arange(_WIDTH + 1, dtype=np.int64)
    digits_m = (m[:, None] // powers[None, :_WIDTH]) % _TEN
    digits_t = (t[:, None] // powers[None, :_WIDTH]) % _TEN
    differs = digits_m != digits_t
    n_differ = np.where(length_m == length_t, differs.sum(axis=1), -1)
    two = n_differ == _TWO
    pairs = np.maximum(length - 1, 1)
    jumps = np.maximum(length - 2, 1)

    def turned(step: int) -> Flags:
        crossed = (digits_m[:, :-step] == digits_t[:, step:]) & (digits_m[:, step:] == digits_t[:, :-step])
        found: Flags = two & (crossed & differs[:, :-step] & differs[:, step:]).any(axis=1)
        return found

    alike = (digits_m[:, :-1] == digits_m[:, 1:]) & (digits_t[:, :-1] == digits_t[:, 1:])
    twins = two & (alike & differs[:, :-1] & differs[:, 1:]).any(axis=1)
    lost, _ = _deletions(m, length_m, powers, t)
    gained, doubled = _deletions(t, length_t, powers, m)
    # a digit lost in front may leave a nought behind (105, 05), but nobody means 01
    gained, doubled = (np.where(length_t == length_m + 1, ways, 0) for ways in (gained, doubled))
    other_digits = _TEN - 1

    chance = np.zeros((len(typed), len(KINDS)))

    def put(kind: str, values: Floats) -> None:
        chance[:, KINDS.index(kind)] = values

    keyed = shares.keyed
    put("digit", keyed * shares.digit * (n_differ == 1) / (length * other_digits))
    put("neighbours", keyed * shares.neighbours * turned(1) / pairs)
    put("dropped", keyed * shares.dropped * lost / length)
    put("extra", keyed * shares.extra * ((doubled > 0) / length + (gained > 0) / (_TEN * (length + 1))) / 2)
    put("pattern", keyed * shares.pattern * (turned(2) / jumps + twins / (pairs * other_digits)) / 2)
    combinations = np.maximum(length * (length - 1) / 2, 1) * other_digits**2
    put("two_edits", keyed * shares.two_edits * two / combinations)
    out_by_ten = close(typed * _TEN, meant, unit) | close(typed, meant * _TEN, unit)
    put("tenfold", shares.tenfold * out_by_ten / 2)
    put("kilograms", shares.kilograms * close(typed * _GRAMS_PER_KG, meant, unit).astype(np.float64))
    put("unknown", keyed * shares.unknown * np.minimum(unit / shares.span_g, 1.0))
    # a number is not mistyped into itself
    chance[~usable | (m == t)] = 0.0
    return chance


def typed_unit(*columns: Floats) -> Floats:
    """Find the unit to which the numbers of each row were written: 1, 0.1 or 0.01.

    Parameters
    ----------
    *columns : ndarray, shape (n,)
        Numbers; NaN is ignored.

    Returns
    -------
    ndarray, shape (n,)
        The finest unit that any number of the row needs.

    Examples
    --------
    >>> import numpy as np
    >>> typed_unit(np.array([395.0, 31.4]), np.array([22.0, 8.0])).tolist()
    [1.0, 0.1]
    """
    unit = np.ones(len(columns[0]))
    for values in columns:
        known = np.nan_to_num(values, nan=0.0)
        for decimals in range(1, _MOST_DECIMALS + 1):
            scaled = known * float(_TEN ** (decimals - 1))
            needs = np.abs(scaled - np.rint(scaled)) > slack(scaled)
            unit = np.where(needs, np.minimum(unit, 1.0 / _TEN**decimals), unit)
    return unit


def tidy(values: Floats, unit: Floats) -> Floats:
    """Round to the unit, so that 395.1 - 22.4 is 372.7."""
    steps = np.rint(1 / unit)
    tidied: Floats = np.rint(values * steps) / steps
    return tidied


def close(a: Floats, b: Floats, unit: Floats) -> Flags:
    """Whether two numbers are the same to the unit."""
    same: Flags = np.abs(a - b) <= unit / 2 + slack(b)
    return same


def slack(values: Floats) -> Floats:
    """Room for the binary representation of decimal fractions."""
    room: Floats = np.abs(values) * 1e-9 + 1e-9
    return room


def _whole(values: Floats, unit: Floats, usable: Flags) -> Ints:
    largest = float(_TEN**_WIDTH) - 1
    ratio = np.where(usable, values, 0.0) / unit
    return np.minimum(np.rint(ratio), largest).astype(np.int64)


def _length(numbers: Ints) -> Ints:
    found = np.ones(len(numbers), dtype=np.int64)
    for k in range(1, _WIDTH):
        found += numbers >= _TEN**k
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

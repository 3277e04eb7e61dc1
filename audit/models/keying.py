"""Slips of the hand as a noisy channel: how likely it is that what was meant became what was typed.

Numbers are weighed in whole columns at once, codes one by one.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from decimal import Decimal
from typing import TYPE_CHECKING

import numpy as np

from audit.models.spelling import forerunners, pattern_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = [
    "CODE_KINDS",
    "KINDS",
    "ONE_SLIP",
    "Channel",
    "Source",
    "close",
    "digit_swaps",
    "learn",
    "learn_rate",
    "slack",
    "step_of",
    "tidy",
    "typed_unit",
]

#: One movement of hand, eye or ear, in codes and in numbers.
_PATTERNS: tuple[str, ...] = (
    "digit",
    "neighbours",
    "dropped",
    "extra",
    "jump",
    "twin",
    "jump_twin",
    "phonetic",
)

#: How one typed number can come from another. The last two need to be known from outside the number.
KINDS: tuple[str, ...] = (*_PATTERNS, "two_edits", "tenfold", "kilograms", "unknown", "copied", "borrow")

#: How one typed code can come from another. The last two need the row above.
CODE_KINDS: tuple[str, ...] = (
    *_PATTERNS,
    "two_edits",
    "look_alike",
    "zeros_lost",
    "rounded",
    "scientific",
    "unknown",
    "copied",
    "filled",
)

#: Kinds that are a single slip, so that what was meant can be listed.
ONE_SLIP: tuple[str, ...] = (*_PATTERNS, "tenfold", "kilograms", "look_alike")

_TEN = 10
_TWO = 2
_GRAMS_PER_KG = 1000.0
#: Seven digits hold a mass of 99 kg to the hundredth of a gram.
_WIDTH = 7
_MOST_DECIMALS = 2
_DIGITS = "0123456789"
_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
#: A double holds any number of 15 digits (IEEE 754), and spreadsheets keep no more.
_KEPT_DIGITS = 15
#: Spreadsheets show numbers of more digits than this with an exponent, to so many decimals.
_PLAIN_DIGITS = 11
_SHOWN_DECIMALS = (2, 5)
#: Signs that are neither digit nor capital letter share what is left of Unicode.
_RARE = 1e-3
_SIGNS = 0x110000


@dataclass(frozen=True, slots=True)
class Source:
    """Something that may have been meant.

    Attributes
    ----------
    meant : str or float
        As what was typed: a code or a number.
    kind : str
        Likeliest slip, one of `CODE_KINDS` or `KINDS`.
    chance : float
        Probability of what was typed, given this was meant and the hand slipped.
    """

    meant: str | float
    kind: str
    chance: float


@dataclass(frozen=True, slots=True)
class Channel:
    """What becomes of a code or a number in which the hand slips: all values come from the declarations.

    Attributes
    ----------
    codes : mapping of str to float
        How slips in a code divide, and mistyped numbers too: the kinds up to ``two_edits``, and ``unknown``.
    habits : mapping of str to float
        Shares of all wrong codes that habit or a spreadsheet made: ``look_alike``, ``zeros_lost``,
        ``rounded``, ``scientific``, ``copied``, ``filled``.
    keyed, tenfold, kilograms, copied : float
        Share of wrong measurements that are one mistyped number; have a decimal point or last zero wrong;
        are in kilograms; repeat the row above.
    span_g : float
        Half the numbers that are wrong for no known reason lie below this, g (or mm).
    odd_step : float
        Share of these that have more decimals than their column.
    swaps : ndarray, shape (10, 10)
        Probability of each wrong digit (column) for the one meant (row), as of `digit_swaps`.
    look_alikes : tuple of str
        Letters and the digits they look like, such as ``O0``.
    other_class : float
        Share of wrong characters in codes that are a letter for a digit or a digit for a letter.

    References
    ----------
    Kernighan, M. D., Church, K. W. & Gale, W. A. (1990). A spelling correction program based on a noisy
    channel model. COLING 1990, 205-210: a channel of slips with their own probabilities.
    Damerau, F. J. (1964). A technique for computer detection and correction of spelling errors.
    Communications of the ACM 7(3), 171-176: the four single slips.
    Verhoeff, J. (1969). Error detecting decimal codes. Mathematical Centre Tract 29: jumps, twins and
    phonetic slips.
    """

    codes: Mapping[str, float]
    habits: Mapping[str, float]
    keyed: float
    tenfold: float
    kilograms: float
    copied: float
    span_g: float
    odd_step: float
    swaps: Floats = field(compare=False)
    look_alikes: tuple[str, ...] = ()
    other_class: float = 0.0
    _hand: float = field(init=False, repr=False, compare=False)
    _partners: Mapping[str, frozenset[str]] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Work out once what every code asks for."""
        object.__setattr__(self, "_hand", 1 - sum(self.habits.values()))
        partners: dict[str, frozenset[str]] = {}
        for pair in (pair for both in self.look_alikes for pair in (both, both[::-1])):
            partners[pair[0]] = partners.get(pair[0], frozenset()) | {pair[1]}
        object.__setattr__(self, "_partners", partners)

    def log_chance(
        self,
        typed: str | float,
        meant: str | float,
        *,
        unit: float | None = None,
        above: str | float | None = None,
    ) -> float:
        """Log probability of what stands in a cell, given what was meant and that the hand slipped there.

        Parameters
        ----------
        typed, meant : str or float
            Two codes in capitals, or two numbers.
        unit : float, optional
            Unit of the last digit of a number as its column is written; the finest that either needs if not
            given.
        above : str or float, optional
            What stands in the row above: only then are copies weighed.

        Returns
        -------
        float
            Minus infinity where both are the same.

        See Also
        --------
        audit.declarations.slips : makes channels, with examples.
        """
        total = sum(self.chances(typed, meant, unit=unit, above=above).values())
        return float(np.log(total)) if total > 0 else float("-inf")

    def chances(
        self,
        typed: str | float,
        meant: str | float,
        *,
        unit: float | None = None,
        above: str | float | None = None,
    ) -> dict[str, float]:
        """Probability of what stands in a cell, by kind of slip; their sum is that of `log_chance`.

        Parameters
        ----------
        typed, meant, unit, above
            As for `log_chance`.

        Returns
        -------
        dict of str to float
            By `CODE_KINDS` or `KINDS`; a kind left out has no chance.
        """
        if isinstance(typed, str) and isinstance(meant, str):
            return self._code(typed, meant, above if isinstance(above, str) else None)
        one, other = np.array([float(typed)]), np.array([float(meant)])
        units = typed_unit(one, other) if unit is None else np.array([unit])
        beside = None if above is None else np.array([float(above)])
        return dict(zip(KINDS, self.numbers(one, other, units, beside)[0].tolist(), strict=True))

    def kind(
        self,
        typed: str | float,
        meant: str | float,
        *,
        unit: float | None = None,
        above: str | float | None = None,
    ) -> str:
        """Name the likeliest slip that makes what was typed of what was meant; empty where both are the same.

        Parameters
        ----------
        typed, meant, unit, above
            As for `log_chance`.

        Returns
        -------
        str
            One of `CODE_KINDS` or `KINDS`.
        """
        chances = self.chances(typed, meant, unit=unit, above=above)
        best = max(chances, key=lambda name: chances[name], default="")
        return best if best and chances[best] > 0 else ""

    def sources(
        self, typed: str | float, *, unit: float | None = None, signs: str = _DIGITS + _LETTERS
    ) -> list[Source]:
        """List everything that one slip turns into what was typed, the likeliest first.

        Parameters
        ----------
        typed : str or float
            A code in capitals, or a number that is not negative.
        unit : float, optional
            Unit of the last digit of a number as its column is written; as of the number itself if not given.
        signs : str
            Signs of which such codes are made: a tag in decimal digits is done four times faster with
            ``"0123456789"``.

        Returns
        -------
        list of Source
            Each once; never what was typed. Numbers are those written to the unit, and those that a point, a
            zero or kilograms lead from. Codes hold the signs given and what was typed beside them.
            What a spreadsheet leaves of a code is not among them: it tells too little of the rest.
        """
        if isinstance(typed, str):
            found = []
            for meant in sorted(self._codes_before(typed, signs)):
                chances = self._code(typed, meant, None)
                kind = max(chances, key=lambda name: chances[name], default="")
                if any(chances.get(name, 0.0) > 0 for name in ONE_SLIP):
                    found.append(Source(meant, kind, sum(chances.values())))
            return sorted(found, key=lambda one: (-one.chance, str(one.meant)))
        return self._numbers_before(float(typed), unit)

    def numbers(self, typed: Floats, meant: Floats, unit: Floats, above: Floats | None = None) -> Floats:
        """Probability of each way in which a meant number becomes the typed one.

        Parameters
        ----------
        typed, meant : ndarray, shape (n,)
            Numbers; NaN where missing.
        unit : ndarray, shape (n,)
            Unit of the last digit, as the column is written.
        above : ndarray, shape (n,), optional
            Numbers of the row above.

        Returns
        -------
        ndarray, shape (n, len(KINDS))
            Probability of the typed number, given the meant one and a slip, by kind; ``borrow`` is left at 0,
            and ``copied`` without `above`. All 0 where a number is missing, negative or equal to the other.
        """
        usable = np.isfinite(typed) & np.isfinite(meant) & (meant >= 0) & (typed >= 0)
        m, whole_m = _whole(meant, unit, usable)
        t, whole_t = _whole(typed, unit, usable)
        different = usable & (np.abs(np.where(usable, typed - meant, 0.0)) > np.where(whole_t, unit / 2, 0.0))
        chance = np.zeros((len(typed), len(KINDS)))
        written = different & whole_m & whole_t
        chance[written, : len(_PATTERNS) + 1] = self._mistyped(t[written], m[written])
        out_by_ten = _equal(typed * _TEN, meant) | _equal(typed, meant * _TEN)
        chance[:, KINDS.index("tenfold")] = self.tenfold * out_by_ten / 2
        chance[:, KINDS.index("kilograms")] = self.kilograms * _equal(typed * _GRAMS_PER_KG, meant)
        chance[:, KINDS.index("unknown")] = self._for_no_reason(np.where(usable, typed, 0.0), unit, whole_t)
        if above is not None:
            chance[:, KINDS.index("copied")] = self.copied * _equal(typed, above)
        # a number is not mistyped into itself
        chance[~different] = 0.0
        return chance

    # numbers

    def _mistyped(self, t: Ints, m: Ints) -> Floats:
        """Chances of the patterns and of two edits, for whole numbers of units: shape (n, patterns + 1)."""
        length_m, length_t = _length(m), _length(t)
        length = length_m.astype(np.float64)
        powers = _TEN ** np.arange(_WIDTH + 1, dtype=np.int64)
        digits_m = (m[:, None] // powers[None, :_WIDTH]) % _TEN
        digits_t = (t[:, None] // powers[None, :_WIDTH]) % _TEN
        differs = digits_m != digits_t
        n_differ = np.where(length_m == length_t, differs.sum(axis=1), -1)
        two = n_differ == _TWO
        swapped = np.where(differs, self.swaps[digits_m, digits_t], 1.0).prod(axis=1)
        pairs, jumps = np.maximum(length - 1, 1), np.maximum(length - 2, 1)

        def placed(step: int, holds: Flags) -> Flags:
            """Whether the two wrong digits stand `step` places apart, and it holds there."""
            found: Flags = two & (differs[:, :-step] & differs[:, step:] & holds).any(axis=1)
            return found

        def turned(step: int) -> Flags:
            crossed = (digits_m[:, :-step] == digits_t[:, step:]) & (
                digits_m[:, step:] == digits_t[:, :-step]
            )
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
        return np.stack([self.keyed * self.codes[name] * chance for name, chance in ways.items()], axis=1)

    def _for_no_reason(self, typed: Floats, unit: Floats, whole: Flags) -> Floats:
        """Chance of a number that came from nowhere: flat up to the span, then falling with its square."""
        beyond = np.maximum(typed / self.span_g, 1.0)
        density = 1 / (2 * self.span_g * beyond**2)
        step = unit
        usual: Floats = np.full(len(typed), 1 - self.odd_step)
        if not whole.all():
            step = np.where(whole, unit, typed_unit(typed) / _TEN)
            usual = np.where(whole, 1 - self.odd_step, self.odd_step)
        found: Floats = self.keyed * self.codes["unknown"] * usual * np.minimum(density * step, 1.0)
        return found

    def _numbers_before(self, typed: float, unit: float | None) -> list[Source]:
        written = float(typed_unit(np.array([typed]))[0]) if unit is None else unit
        digits = str(int(_whole(np.array([typed]), np.array([written]), np.array([True]))[0][0]))
        values = {int(text) * written for text in forerunners(digits, _DIGITS) if text}
        # a digit lost in front of noughts leaves a smaller number
        values |= {
            (int(digit) * _TEN**places + int(digits)) * written
            for places in range(len(digits), _WIDTH)
            for digit in _DIGITS[1:]
        }
        values |= {typed * _TEN, typed / _TEN, typed * _GRAMS_PER_KG}
        meant = np.array(sorted({round(value, _WIDTH) for value in values}))
        units = np.full(len(meant), written)
        chances = self.numbers(np.full(len(meant), typed), meant, units)
        best = chances.argmax(axis=1)
        one_slip = [KINDS.index(name) for name in ONE_SLIP if name in KINDS]
        near = np.flatnonzero(chances[:, one_slip].any(axis=1))
        total = chances[near].sum(axis=1)
        found = [
            Source(float(value), KINDS[int(k)], float(chance))
            for value, k, chance in zip(meant[near], best[near], total, strict=True)
        ]
        return sorted(found, key=lambda one: (-one.chance, one.meant))

    # codes

    def _code(self, typed: str, meant: str, above: str | None) -> dict[str, float]:
        if typed == meant or not meant:
            return {}
        hand = self._hand
        chances = {name: hand * self.codes[name] * chance for name, chance in self._by_hand(typed, meant)}
        chances["unknown"] = hand * self.codes["unknown"] * self._any_code(typed, meant)
        chances["look_alike"] = self.habits["look_alike"] * self._misread(typed, meant)
        if meant.isdigit() and meant.isascii():
            if meant[0] == "0" and typed == (meant.lstrip("0") or "0"):
                chances["zeros_lost"] = self.habits["zeros_lost"]
            if typed == _rounded(meant):
                chances["rounded"] = self.habits["rounded"]
            forms = _scientific(meant)
            if typed in forms:
                chances["scientific"] = self.habits["scientific"] / len(forms)
        if above is not None:
            chances["copied"] = self.habits["copied"] * (typed == above)
            chances["filled"] = self.habits["filled"] * (typed == _next(above))
        return chances

    def _codes_before(self, typed: str, signs: str) -> set[str]:
        """Codes that one slip of the hand turns into this one."""
        beside = "".join(sorted(set(typed) - set(signs)))
        misread = {
            typed.replace(sign, other) for sign in set(typed) for other in self._partners.get(sign, ())
        }
        return (forerunners(typed, signs + beside) | misread) - {""}

    def _by_hand(self, typed: str, meant: str) -> Iterator[tuple[str, float]]:
        n = len(meant)
        longer = len(typed) - n
        if longer == 0:
            yield from self._same_length(typed, meant)
        elif longer == -1:
            yield "dropped", len(_without(meant, typed)) / n
        elif longer == 1:
            places = _without(typed, meant)
            doubled = sum(1 for i in places if i > 0 and typed[i] == typed[i - 1])
            put_in = sum(self._like(typed[i], meant[max(i - 1, 0)]) for i in places)
            yield "extra", (doubled / n + put_in / (n + 1)) / 2
        elif longer == -_TWO and n > _TWO:
            yield "two_edits", len(_without_two(meant, typed)) / _pairs_of(n) / _TWO / 2
        elif longer == _TWO:
            ways = sum(
                self._like(typed[i], meant[min(max(i - 1, 0), n - 1)])
                * self._like(typed[j], meant[min(max(j - 2, 0), n - 1)])
                for i, j in _without_two(typed, meant)
            )
            yield "two_edits", ways / _pairs_of(n + _TWO) / _TWO / 2

    def _same_length(self, typed: str, meant: str) -> Iterator[tuple[str, float]]:
        n = len(meant)
        apart = [i for i, (m, t) in enumerate(zip(meant, typed, strict=True)) if m != t]
        if len(apart) == 1:
            yield "digit", self._swap(meant[apart[0]], typed[apart[0]]) / n
        if len(apart) != _TWO:
            return
        i, j = apart
        swap = self._swap(meant[i], typed[i])
        pattern = pattern_of(meant[i] + meant[j], typed[i] + typed[j], j - i)
        if pattern:
            chance = swap if pattern in ("twin", "jump_twin") else 1.0
            yield pattern, chance / (n - (j - i))
        yield "two_edits", swap * self._swap(meant[j], typed[j]) / _pairs_of(n) / 2

    def _swap(self, meant: str, typed: str) -> float:
        """Probability of a wrong character, given that the meant one went wrong."""
        if meant in _DIGITS and typed in _DIGITS:
            return (1 - self.other_class) * float(self.swaps[int(meant), int(typed)])
        if meant in _LETTERS and typed in _LETTERS:
            return (1 - self.other_class) / (len(_LETTERS) - 1)
        return self._foreign(meant, typed)

    def _like(self, typed: str, beside: str) -> float:
        """Probability of a character that was put in beside another."""
        for kin in (_DIGITS, _LETTERS):
            if beside in kin and typed in kin:
                return (1 - self.other_class) / len(kin)
        return self._foreign(beside, typed)

    def _foreign(self, meant: str, typed: str) -> float:
        """Probability of a character of another class than the one meant."""
        other = _LETTERS if meant in _DIGITS else _DIGITS if meant in _LETTERS else _DIGITS + _LETTERS
        share = self.other_class if meant in _DIGITS + _LETTERS else 1.0
        if typed in other:
            return share * (1 - _RARE) / len(other)
        return share * _RARE / _SIGNS

    def _any_code(self, typed: str, meant: str) -> float:
        """Probability of a code that came from nowhere, likely as long as the meant one and of like signs."""
        both = typed + meant
        if len(typed) == len(meant) and both.isascii() and both.isdigit():
            signs = ((1 - self.other_class) / _TEN) ** len(typed)
        else:
            last = len(meant) - 1
            signs = float(np.prod([self._like(sign, meant[min(i, last)]) for i, sign in enumerate(typed)]))
        thirds = 1 / (_TWO + 1)
        return thirds * 2.0 ** -abs(len(typed) - len(meant)) * signs

    def _misread(self, typed: str, meant: str) -> float:
        """Probability that letters and digits that look alike were confused: one, or all of a kind."""
        if len(typed) != len(meant):
            return 0.0
        apart = [i for i, (m, t) in enumerate(zip(meant, typed, strict=True)) if m != t]
        made = {(meant[i], typed[i]) for i in apart}
        partners = self._partners
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


def digit_swaps(
    confused: Iterable[str],
    confused_times: float,
    keypad: Sequence[str],
    beside_times: float,
    diagonal_times: float,
) -> Floats:
    """Probability of each wrong digit, given the one meant.

    Parameters
    ----------
    confused : iterable of str
        Pairs of digits that look alike, such as ``17``.
    confused_times : float
        How many times likelier they are taken for each other than other digits.
    keypad : sequence of str
        Rows of keys from above; a digit that stands twice is a wide key.
    beside_times, diagonal_times : float
        How many times likelier than a far key is one beside, above or below; one that touches at a corner.

    Returns
    -------
    ndarray, shape (10, 10)
        Row: digit meant; column: digit typed. Rows sum to 1, the diagonal is 0.

    Examples
    --------
    >>> swaps = digit_swaps(["17"], 2, ["789", "456", "123", "00."], 1.5, 1.25)
    >>> bool(swaps[1, 7] > swaps[1, 4] > swaps[1, 5] > swaps[1, 9])
    True
    """
    keys = [(int(key), x, y) for y, row in enumerate(keypad) for x, key in enumerate(row) if key in _DIGITS]
    near = np.ones((_TEN, _TEN))
    for a, x, y in keys:
        for b, x2, y2 in keys:
            touches = max(abs(x - x2), abs(y - y2)) == 1
            beside = abs(x - x2) + abs(y - y2) == 1
            times = beside_times if beside else diagonal_times if touches else 1.0
            near[a, b] = max(near[a, b], times)
    alike = np.ones((_TEN, _TEN))
    for pair in confused:
        one, other = int(pair[0]), int(pair[1])
        alike[one, other] = alike[other, one] = confused_times
    # the eye and the finger err each on their own
    weight = near + alike - 1
    np.fill_diagonal(weight, 0.0)
    swaps: Floats = weight / weight.sum(axis=1, keepdims=True)
    return swaps


def learn(shares: Mapping[str, float], counts: Mapping[str, float], weight: float) -> dict[str, float]:
    """Shares of slips after a team's own have been counted: mean of the Dirichlet posterior.

    Parameters
    ----------
    shares : mapping of str to float
        Declared share of each kind.
    counts : mapping of str to float
        Decided slips of a team's own by kind; a kind left out was not met.
    weight : float
        How many slips the declared shares count for.

    Returns
    -------
    dict of str to float
        They sum to what the declared shares sum to, 1.

    Raises
    ------
    ValueError
        A kind that is not declared, a negative count, or no weight.

    References
    ----------
    Gelman, A. et al. (2013). Bayesian data analysis, 3rd edition, section 3.4: the multinomial model and its
    conjugate prior.

    Examples
    --------
    >>> learnt = learn({"digit": 0.72, "other": 0.28}, {"digit": 10, "other": 10}, 50)
    >>> round(learnt["digit"], 4), (36 + 10) / 70
    (0.6571, 0.6571428571428571)
    """
    strange = sorted(set(counts) - set(shares))
    if strange:
        raise ValueError(f"no share is declared for {', '.join(strange)}")
    if weight <= 0 or any(count < 0 for count in counts.values()):
        raise ValueError("counts must not be negative, and the weight must be above 0")
    total = sum(shares.values())
    met = sum(counts.values())
    return {
        kind: total * (weight * share / total + counts.get(kind, 0)) / (weight + met)
        for kind, share in shares.items()
    }


def learn_rate(rate: float, wrong: float, cells: float, weight: float, allowed: tuple[float, float]) -> float:
    """Probability of a slip in one cell after a team's own cells were counted, kept within what is allowed.

    Parameters
    ----------
    rate : float
        Declared probability.
    wrong, cells : float
        Cells that were decided to be wrong, of how many.
    weight : float
        How many cells the declared probability counts for.
    allowed : tuple of two floats
        Least and greatest probability that may be learnt.

    Returns
    -------
    float
        Mean of the Beta posterior.

    Raises
    ------
    ValueError
        More wrong cells than cells, a negative count, or no weight.

    Examples
    --------
    >>> learn_rate(0.005, 8, 600, 400, (0.001, 0.036))
    0.01
    """
    if weight <= 0 or not 0 <= wrong <= cells:
        raise ValueError(
            "of the cells, at least none and at most all can be wrong; the weight must be above 0"
        )
    learnt = (weight * rate + wrong) / (weight + cells)
    return float(min(max(learnt, allowed[0]), allowed[1]))


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


def step_of(value: float) -> float:
    """Smallest step that one number was written to: 1, a tenth or a hundredth.

    Examples
    --------
    >>> step_of(373.0), step_of(37.3), step_of(0.25)
    (1.0, 0.1, 0.01)
    """
    if float(value).is_integer():
        return 1.0
    return 1 / _TEN if float(round(value * _TEN, 6)).is_integer() else 1 / _TEN**_TWO


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


def _equal(one: Floats, other: Floats) -> Flags:
    same: Flags = np.abs(one - other) <= slack(other)
    return same


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


def _rounded(code: str) -> str:
    """Write a code of digits as a spreadsheet that took it for a number; empty where nothing is lost."""
    return code[:_KEPT_DIGITS] + "0" * (len(code) - _KEPT_DIGITS) if len(code) > _KEPT_DIGITS else ""


def _scientific(code: str) -> set[str]:
    """Ways in which a spreadsheet shows a long code of digits that it took for a number."""
    number = Decimal(code)
    if number < _TEN**_PLAIN_DIGITS:
        return set()
    forms = set()
    for decimals in _SHOWN_DECIMALS:
        shown = f"{number:.{decimals}E}"
        mantissa, _, exponent = shown.partition("E")
        for text in (shown, f"{mantissa.rstrip('0').rstrip('.')}E{exponent}"):
            forms |= {text, text.replace(".", ",")}
    return forms


def _next(code: str) -> str:
    """Count a code on by one, as a spreadsheet does where a cell is drawn down."""
    found = re.fullmatch(rf"(.*?)([0-9]{{1,{_KEPT_DIGITS}}})", code, flags=re.DOTALL)
    return f"{found[1]}{int(found[2]) + 1:0{len(found[2])}d}" if found else ""

"""Slips of the hand as a noisy channel: how likely it is that what was meant became what was typed.

Numbers are weighed in whole columns at once, codes one by one.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from audit.models.mistyped_code import DIGITS, LETTERS, code_chances, codes_before
from audit.models.mistyped_number import numbers, numbers_before
from audit.models.slip_kinds import KINDS, ONE_SLIP
from audit.models.written_number import step_of, typed_unit

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["Channel", "Source"]

#: So many numbers are kept with what may have been meant by them.
_MOST_KNOWN = 4096


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
    other_sign : float
        Share of wrong characters of another class that are neither digit nor capital letter.
    hand : float
        Share of wrong codes that the hand made, not habit or a spreadsheet: worked out.
    partners : mapping of str to frozenset of str
        Sign -> signs that it is taken for: worked out.

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
    other_sign: float = 0.0
    hand: float = field(init=False, repr=False, compare=False)
    partners: Mapping[str, frozenset[str]] = field(init=False, repr=False, compare=False)
    # many birds weigh the same
    _before: dict[tuple[float, float], tuple[Source, ...]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def __post_init__(self) -> None:
        """Work out once what every code asks for."""
        object.__setattr__(self, "hand", 1 - sum(self.habits.values()))
        partners: dict[str, frozenset[str]] = {}
        for pair in (pair for both in self.look_alikes for pair in (both, both[::-1])):
            partners[pair[0]] = partners.get(pair[0], frozenset()) | {pair[1]}
        object.__setattr__(self, "partners", partners)

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
            return code_chances(self, typed, meant, above if isinstance(above, str) else None)
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
        self, typed: str | float, *, unit: float | None = None, signs: str = DIGITS + LETTERS
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
            for meant in sorted(codes_before(self, typed, signs)):
                chances = code_chances(self, typed, meant, None)
                kind = max(chances, key=lambda name: chances[name], default="")
                if any(chances.get(name, 0.0) > 0 for name in ONE_SLIP):
                    found.append(Source(meant, kind, sum(chances.values())))
            return sorted(found, key=lambda one: (-one.chance, str(one.meant)))
        key = float(typed), step_of(typed) if unit is None else unit
        if key not in self._before:
            self.foresee([key])
        return list(self._before[key])

    def foresee(self, asked: Iterable[tuple[float, float]]) -> None:
        """Work out together what `sources` will be asked, which is much quicker than number by number.

        Parameters
        ----------
        asked : iterable of (float, float)
            Typed numbers and their units.
        """
        new = [key for key in dict.fromkeys(asked) if key not in self._before]
        if len(self._before) + len(new) > _MOST_KNOWN:
            self._before.clear()
        for key, found in zip(new, numbers_before(self, new) if new else (), strict=True):
            self._before[key] = tuple(Source(*one) for one in found)

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
        return numbers(self, typed, meant, unit, above)

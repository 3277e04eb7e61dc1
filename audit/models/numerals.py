"""Slips of the hand in one measured number: what may have been meant, and how likely that is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["Meant", "NumeralShares", "meant_instead", "step_of"]

NumeralSlip = Literal["digit", "tenfold"]

_TEN = 10
_HUNDRED = 100


@dataclass(frozen=True, slots=True)
class NumeralShares:
    """How the slips of a mistyped number divide, as shares of one.

    Attributes
    ----------
    changed, exchanged, length : float
        One wrong digit; two neighbours exchanged; a digit too few or too many.
    """

    changed: float
    exchanged: float
    length: float


@dataclass(frozen=True, slots=True)
class Meant:
    """A number that may have been meant.

    Attributes
    ----------
    value : float
    kind : {'digit', 'tenfold'}
        One slip in the digits; decimal point or zero.
    share : float
        Probability that this number is typed in the way it was, given a slip of that kind.
    """

    value: float
    kind: NumeralSlip
    share: float


def step_of(value: float) -> float:
    """Smallest step that a number was written to: 1, a tenth or a hundredth."""
    if float(value).is_integer():
        return 1.0
    return 1 / _TEN if float(round(value * _TEN, 6)).is_integer() else 1 / _HUNDRED


def meant_instead(value: float, shares: NumeralShares) -> list[Meant]:
    """List the numbers that one slip of the hand turns into `value`.

    Parameters
    ----------
    value : float
        What was typed; not negative.
    shares : NumeralShares

    Returns
    -------
    list of Meant
        Each number once, the likelier kind kept; never the number itself nor nothing.

    References
    ----------
    Damerau, F. J. (1964). Communications of the ACM 7(3), 171-176: the four kinds of single slip.

    Examples
    --------
    >>> [m.value for m in meant_instead(37.3, NumeralShares(0.8, 0.1, 0.1)) if m.kind == "tenfold"]
    [373.0, 3.73]
    """
    step = step_of(value)
    digits = f"{round(value / step)}"
    changed = {
        digits[:i] + new + digits[i + 1 :]
        for i in range(len(digits))
        for new in "0123456789"
        if new != digits[i]
    }
    turned = {
        digits[:i] + digits[i + 1] + digits[i] + digits[i + 2 :]
        for i in range(len(digits) - 1)
        if digits[i] != digits[i + 1]
    }
    # a digit lost from what was meant, or one put into it
    longer = {digits[:i] + new + digits[i:] for i in range(len(digits) + 1) for new in "0123456789"}
    shorter = {digits[:i] + digits[i + 1 :] for i in range(len(digits)) if len(digits) > 1}
    found: dict[float, Meant] = {}
    for texts, share in (
        (changed, shares.changed),
        (turned, shares.exchanged),
        (longer | shorter, shares.length),
    ):
        for text in sorted(texts):
            meant = round(int(text) * step, 2)
            if 0 < meant != value and meant not in found:
                found[meant] = Meant(meant, "digit", share / len(texts))
    for meant in (value * _TEN, value / _TEN):
        rounded = round(meant, 6)
        if rounded > 0:
            found[rounded] = Meant(rounded, "tenfold", 1 / 2)
    return list(found.values())

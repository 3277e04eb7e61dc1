"""How many crossings were missed between two groups of reads."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_waits import Waits

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Between", "between"]


@dataclass(frozen=True, slots=True)
class Between:
    """What may have happened between two groups; all arrays of shape (2, n), by the state at the beginning.

    Attributes
    ----------
    none, one : numpy.ndarray
        Density of the wait with no missed crossing, and with one.
    stay, change : numpy.ndarray
        Density with an even, and an odd number of missed crossings.
    lost_staying, lost_changing, back_changing : numpy.ndarray
        Expected number of missed crossings from the state at the beginning (and as many from the other)
        where the bird ends as it began; from that state where it does not; and from the other one.
    """

    none: Floats
    one: Floats
    stay: Floats
    change: Floats
    lost_staying: Floats
    lost_changing: Floats
    back_changing: Floats


def between(waits: Waits, bins: Ints, unheard: Floats) -> Between:
    """Weigh how many crossings were missed between two groups.

    Parameters
    ----------
    waits : Waits
        Densities.
    bins : numpy.ndarray of int, shape (n,)
        Bins of the time between the groups.
    unheard : numpy.ndarray, shape (2, n)
        Chance that the next thing a bird does outside, or inside, is a crossing that no antenna hears.
    """
    there_and_back = unheard[0] * unheard[1]
    missed = np.take(waits.missed, bins, axis=2, mode="clip")
    none = missed[:, 0]
    often = there_and_back * there_and_back
    two, four = missed[:, 2] * there_and_back, missed[:, 4] * often
    one, three, five = missed[:, 1] * unheard, missed[:, 3] * unheard, missed[:, 5] * unheard
    three *= there_and_back
    five *= often
    stay, change = none + two + four, one + three + five
    tiny = np.finfo(float).tiny
    odd = np.maximum(change, tiny)
    return Between(
        none,
        one,
        stay,
        change,
        (two + 2 * four) / np.maximum(stay, tiny),
        (one + 2 * three + 3 * five) / odd,
        (three + 2 * five) / odd,
    )

"""A long axis folded: numbers that lie close keep their distances, what lies between is left out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["Fold", "fold"]

_GAP = 0.12


@dataclass(frozen=True, slots=True)
class Fold:
    """Stretches of numbers laid end to end.

    Attributes
    ----------
    lows, highs : tuple of float
        First and last number of each stretch, ascending.
    starts : tuple of float
        Where each stretch begins on the folded axis.
    gap : float
        How far one stretch is from the next on the folded axis.
    """

    lows: tuple[float, ...]
    highs: tuple[float, ...]
    starts: tuple[float, ...]
    gap: float

    @property
    def end(self) -> float:
        """Where the last stretch ends on the folded axis."""
        return self.starts[-1] + self.highs[-1] - self.lows[-1]

    def place(self, number: float) -> float:
        """Place a number; what lies between two stretches stands between them, what lies beyond at an end.

        Examples
        --------
        >>> some = fold([1, 2, 3, 1000, 1001], 10)
        >>> [round(some.place(number) - some.place(1), 2) for number in (3, 1000, 1001)]
        [2.0, 2.36, 3.36]
        """
        at = int(np.searchsorted(np.array(self.lows), number, side="right")) - 1
        half = 1 / 2
        if at < 0:
            return self.starts[0] - self.gap * half
        if number <= self.highs[at]:
            return self.starts[at] + number - self.lows[at]
        return self.starts[at] + self.highs[at] - self.lows[at] + self.gap * half

    def breaks(self) -> list[float]:
        """Where something is left out: between each two stretches."""
        half = 1 / 2
        return [start - self.gap * half for start in self.starts[1:]]

    def stretch(self, number: float) -> int:
        """Which stretch holds a number; -1 where none does."""
        for place, (low, high) in enumerate(zip(self.lows, self.highs, strict=True)):
            if low <= number <= high:
                return place
        return -1


def fold(numbers: Iterable[float], apart: float) -> Fold | None:
    """Fold an axis where neighbours are farther apart than `apart`; None without any number."""
    known = np.unique(np.array([number for number in numbers if np.isfinite(number)], dtype=np.float64))
    if not len(known):
        return None
    cuts = np.flatnonzero(np.diff(known) > apart)
    lows = known[np.concatenate([[0], cuts + 1])]
    highs = known[np.concatenate([cuts, [len(known) - 1]])]
    length = float((highs - lows).sum())
    gap = max(length * _GAP, 1.0)
    starts = np.concatenate([[0.0], np.cumsum(highs - lows + gap)[:-1]])
    return Fold(tuple(lows.tolist()), tuple(highs.tolist()), tuple(starts.tolist()), gap)

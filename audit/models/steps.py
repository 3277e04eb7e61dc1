"""How a number changes from one cell to the next, learnt from a season's own pairs of cells."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Steps"]


@dataclass(frozen=True, slots=True)
class Steps:
    """Differences between neighbouring cells, and how likely others are.

    Attributes
    ----------
    seen : numpy.ndarray of int, shape (n,)
        Differences met.
    width : int
        How far a difference may be from one met and still count as like it, if both go the same way.
    span : int
        How many differences are possible at all.
    exact : float
        Share of the chance that goes to just the differences met.

    Examples
    --------
    >>> import numpy as np
    >>> steps = Steps(np.array([4, 5, 6, 5]), 10, 2880, 0.7)
    >>> usual, back = np.exp(steps.log_chance(np.array([5, -5])))
    >>> bool(usual > 1000 * back)
    True
    """

    seen: Ints
    width: int
    span: int
    exact: float

    def log_chance(self, steps: Ints) -> Floats:
        """Log probability of each difference."""
        # most are asked about several times
        asked, which = np.unique(steps, return_inverse=True)
        values, counts = np.unique(self.seen, return_counts=True)
        here, near = np.zeros(len(asked)), np.zeros(len(asked))
        _, at, of = np.intersect1d(asked, values, assume_unique=True, return_indices=True)
        here[at] = counts[of]
        # a step back says nothing for a step forward, however short
        for ask, met in ((asked < 0, values < 0), (asked >= 0, values >= 0)):
            away = np.abs(asked[ask][:, None] - values[met][None, :])
            near[ask] = np.maximum(1 - away / (self.width + 1), 0.0) @ counts[met] / (self.width + 1)
        chance = self.exact * here + (1 - self.exact) * near
        found: Floats = np.log((chance + 1 / self.span) / (len(self.seen) + 1))
        return found[which]

    def without(self, *steps: int) -> Steps:
        """Return the same without one of each difference given."""
        left = list(self.seen)
        for step in steps:
            if step in left:
                left.remove(step)
        return Steps(np.array(left, dtype=np.int64), self.width, self.span, self.exact)

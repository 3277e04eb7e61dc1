"""Times of day that may have been meant where another one was typed."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from audit.models.time_of_day import DAY, clock, minutes_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.misstruck import Hand

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["MeantTimes"]

_SIGNS = "0123456789:"


@dataclass(frozen=True, slots=True)
class MeantTimes:
    """What may have been meant by a time, found once for each time of day."""

    hand: Hand
    _known: dict[int, tuple[Ints, Floats]] = field(default_factory=dict, repr=False, compare=False)

    def instead_of(self, typed: int) -> tuple[Ints, Floats]:
        """List all other times of the day.

        Parameters
        ----------
        typed : int
            Minutes since midnight.

        Returns
        -------
        minutes : ndarray, shape (1439,)
            First the times from which one slip leads to the one typed, then all others.
        chance : ndarray, shape (s,)
            Probability of each of those slips, given that the hand slipped.
        """
        if typed not in self._known:
            struck = self.hand.before(clock(typed), _SIGNS, _is_time)
            near = np.array([int(minutes_of(text)) for text in struck], dtype=np.int64)
            rest = np.setdiff1d(np.arange(DAY), [*near.tolist(), typed])
            chance = np.array([one.chance for one in struck.values()], dtype=np.float64)
            self._known[typed] = np.concatenate([near, rest]), chance
        return self._known[typed]


def _is_time(text: str) -> bool:
    """Whether a text is a time of day such as ``09:30``."""
    minutes = minutes_of(text)
    return minutes < DAY and clock(minutes) == text

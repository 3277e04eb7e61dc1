"""The clock of a reader over a season: the times in which nobody touched it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.clock_calendar import exchange_day_and_month

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Clock", "Segment"]


@dataclass(frozen=True, slots=True)
class Segment:
    """A time in which a clock was not touched.

    Attributes
    ----------
    first, last : int
        Places of its first and last read in the order of the memory.
    kind : str
        ``right``, ``hour``, ``hours``, ``half_hours``, ``days``, ``exchanged``, ``year``, ``reset`` or
        ``other``.
    offset : float
        By how many seconds the clock was ahead, as it is used: 0 where it stands.
    low, high : float
        Between what the offset lies, as far as the reads tell.
    sd : float
        Its standard deviation, in seconds; infinite where no read tells.
    since : float
        What the clock showed at the first read.
    drift, drift_sd : float
        Seconds that it gains in a second, 0 where none is sure, and its standard deviation.
    n : int
        Number of reads that it explains.
    exact : bool
        Whether times of day told.
    """

    first: int
    last: int
    kind: str
    offset: float
    low: float
    high: float
    sd: float
    since: float
    drift: float
    drift_sd: float
    n: int
    exact: bool


@dataclass(frozen=True, slots=True)
class Clock:
    """A clock over a season.

    Attributes
    ----------
    order : numpy.ndarray of int, shape (n,)
        Positions of the reads in the order of the memory.
    exchanged : bool
        Whether day and month of what is stored are exchanged.
    segments : tuple of Segment
    """

    order: Ints
    exchanged: bool
    segments: tuple[Segment, ...]

    @property
    def right(self) -> bool:
        """Whether what is stored stands."""
        return not self.exchanged and all(one.kind == "right" and not one.drift for one in self.segments)

    def segment_of(self) -> Ints:
        """Return the number of the segment of each read, shape (n,)."""
        found = np.zeros(len(self.order), dtype=np.int64)
        for k, one in enumerate(self.segments):
            found[self.order[one.first : one.last + 1]] = k
        return found

    def corrected(self, stored: Floats) -> Floats:
        """Return the true moments of the reads, in seconds, shape (n,)."""
        told = exchange_day_and_month(stored) if self.exchanged else stored
        true = told.copy()
        for one in self.segments:
            at = self.order[one.first : one.last + 1]
            true[at] -= one.offset + one.drift * (told[at] - one.since)
        return true

"""Reads whose moments lie years away from the rest of their box: its clock had lost the time."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from audit.models.reads import Reads

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.declarations import Declarations

    Ints = NDArray[np.int64]

__all__ = ["Stray", "StrayLimits", "stray_limits", "without_strays"]

_DAY_MS = 86_400_000
_YEAR_MS = 365.2425 * _DAY_MS
#: Days of a log that are laid out one by one: a thousand years of them.
_DAYS_MOST = 400_000


@dataclass(frozen=True, slots=True)
class StrayLimits:
    """Numbers by which stray moments are told.

    Attributes
    ----------
    years : float
        Only a pause longer than this parts stray reads from the rest.
    share : float
        Reads beyond such a pause are stray where they are no larger share of the box than this.
    starts : tuple of float
        Moments, in milliseconds since 1970, at which clocks begin anew after their battery was flat.
    started_d : float
        Reads beyond such a pause are stray, however many, where they begin within so many days after these.
    """

    years: float
    share: float
    starts: tuple[float, ...]
    started_d: float


@dataclass(frozen=True, slots=True)
class Stray:
    """Reads of a box that were left out.

    Attributes
    ----------
    reads : int
    first, last : int
        Their first and last moment, in milliseconds since 1970.
    apart_y : float
        Years between them and the rest; below 0 where they come before it.
    """

    reads: int
    first: int
    last: int
    apart_y: float

    @property
    def sentence(self) -> str:
        """What they are, for a person."""
        years = [
            int(np.datetime64(one, "ms").astype("datetime64[Y]").astype(int)) + 1970 for one in self.span
        ]
        when = f"year {years[0]}" if years[0] == years[1] else f"years {years[0]} to {years[1]}"
        bear = "1 read bears a moment" if self.reads == 1 else f"{self.reads:,} reads bear moments"
        left = "it is" if self.reads == 1 else "they are"
        far = f"{abs(self.apart_y):.0f} years {'before' if self.apart_y < 0 else 'after'} the rest"
        return (
            f"{bear} of the {when}, {far}: its clock had probably lost the time; {left} left out of passages "
            "and of the health of antennas. If these years are right, raise reading.stray_years in "
            "loggers.yaml."
        )

    @property
    def span(self) -> tuple[int, int]:
        """First and last moment."""
        return self.first, self.last


def stray_limits(declared: Declarations) -> StrayLimits:
    """Take the declared numbers."""
    reading, clock = declared.loggers.limits, declared.settings
    return StrayLimits(
        float(reading["reading.stray_years"].value),
        float(reading["reading.stray_share"].value),
        tuple(1000.0 * float(one) for one in clock["antennas.clock.starts"].value),
        float(clock["antennas.clock.started_d"].value),
    )


def without_strays(reads: Reads, limits: StrayLimits) -> tuple[Reads, dict[int, list[Stray]]]:
    """Leave out reads whose moments lie years away from the rest of their box.

    Parameters
    ----------
    reads : Reads
        Whole boxes, sorted by box.
    limits : StrayLimits

    Returns
    -------
    reads : Reads
        In the same order; the same object where none is stray.
    strays : dict
        Code of the box -> what was left out of it, in the order of time.

    Notes
    -----
    A log that goes on for years has no such pause and stays whole, and so do two seasons of many reads that
    lie years apart.
    """
    if not len(reads.at):
        return reads, {}
    edges = np.flatnonzero(np.diff(reads.box, prepend=-1, append=-1))
    least, most = (one.reduceat(reads.at, edges[:-1]) for one in (np.minimum, np.maximum))
    kept = np.ones(len(reads.at), dtype=np.bool_)
    strays: dict[int, list[Stray]] = {}
    wide = most - least > limits.years * _YEAR_MS
    for (low, high), far in zip(pairwise(edges.tolist()), wide.tolist(), strict=True):
        if far and (found := _of_box(at := reads.at[low:high], limits)):
            strays[int(reads.box[low])] = found
            for one in found:
                kept[low:high] &= (at < one.first) | (at > one.last)
    if not strays:
        return reads, {}
    return Reads(reads.box[kept], reads.tag[kept], reads.at[kept], reads.antenna[kept]), strays


def _of_box(at: Ints, limits: StrayLimits) -> list[Stray]:
    if not _pauses_long(at, limits):
        return []
    at = np.sort(at)
    cuts = np.flatnonzero(np.diff(at) > limits.years * _YEAR_MS) + 1
    parts = list(pairwise([0, *cuts.tolist(), len(at)]))
    begun_anew = [
        any(0 <= at[low] - start <= limits.started_d * _DAY_MS for start in limits.starts) for low, _ in parts
    ]
    right = max(range(len(parts)), key=lambda nr: (not begun_anew[nr], parts[nr][1] - parts[nr][0]))
    main = parts[right]
    found = []
    for nr, (low, high) in enumerate(parts):
        if nr == right or not (begun_anew[nr] or high - low <= limits.share * len(at)):
            continue
        first, last = int(at[low]), int(at[high - 1])
        apart = last - at[main[0]] if nr < right else first - at[main[1] - 1]
        found.append(Stray(high - low, first, last, float(apart) / _YEAR_MS))
    return found


def _pauses_long(at: Ints, limits: StrayLimits) -> bool:
    """Whether there may be such a pause, by days with reads, which are told without sorting."""
    day = at // _DAY_MS
    day -= day.min()
    many = int(day.max()) + 1
    if many > _DAYS_MOST:
        return True
    there = np.zeros(many, dtype=np.bool_)
    there[day] = True
    longest = int(np.diff(np.flatnonzero(there)).max(initial=0)) + 1
    return longest * _DAY_MS > limits.years * _YEAR_MS

"""The clock of a box logger, held against a marker tag that beats evenly and visits with a hand reader.

A logger's memory is in the order of its reads, whatever its clock showed, so a clock that was set, changed to
daylight saving time or began anew shows as a step in that order. Between two steps a clock gains or loses
slowly. The beats of a marker tag tell that second by second, though not what the true time was; a tag read by
the logger and by a hand reader at one visit tells the true time, now and then.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.clock_calendar import exchange_day_and_month
from audit.models.clock_levels import levels
from audit.models.clock_limits import Anchors, ClockLimits
from audit.models.clock_pieces import clock_parts
from audit.models.clock_steps import cuts, marker_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Anchors", "ClockLimits", "LoggerClock", "LoggerPiece", "logger_clock"]

_SECOND_MS = 1000.0
_HOUR_MS = 3_600_000.0
_DAY_MS = 24 * _HOUR_MS


@dataclass(frozen=True, slots=True)
class LoggerPiece:
    """A time in which the clock was not touched.

    Attributes
    ----------
    first, last : int
        Positions of its first and last read in the memory.
    kind : str
        ``right``, ``hour``, ``reset``, ``exchanged`` (day and month) or ``other``.
    offset_s : float
        By how many seconds the clock was ahead in the middle; nan where nothing tells.
    drift : float
        Seconds that it gained in a second.
    known : bool
        Whether an anchor or a marker tells, directly or through the pieces beside it.
    p : float
        Probability that the clock was set where the piece begins; 1 for the first.
    ways : tuple of (int, float)
        By how many more whole intervals of the marker it may have been set on there, and how likely that is
        beside the likeliest; empty where nothing tells.
    """

    first: int
    last: int
    kind: str
    offset_s: float
    drift: float
    known: bool
    p: float = 1.0
    ways: tuple[tuple[int, float], ...] = ()


@dataclass(frozen=True, slots=True)
class LoggerClock:
    """A logger's clock.

    Attributes
    ----------
    pieces : tuple of LoggerPiece
    offset : numpy.ndarray of float, shape (n,)
        By how many milliseconds the clock was ahead at each read of the memory; 0 where nothing tells.
    doubtful : tuple of (int, float)
        First read after a hole of an hour that may be a step, and how likely that is; it is taken for none.
    beaten : bool
        A marker beats evenly.
    anchored : bool
        A moment known otherwise tells when the clock was right; else its first reads are taken to be.
    beat_s : float
        Interval of the marker in seconds; nan where it has none.
    doubled : float
        Probability that an hour was told twice, in rows sorted by time, since the clock was put back by one.
    """

    pieces: tuple[LoggerPiece, ...]
    offset: Floats
    doubtful: tuple[tuple[int, float], ...] = ()
    anchored: bool = False
    beaten: bool = False
    beat_s: float = float("nan")
    doubled: float = 0.0

    @property
    def set_back(self) -> bool:
        """Whether it is taken to have been whole days ahead at first, and right since it was set back."""
        return bool(self.pieces) and not self.anchored and self.pieces[0].offset_s > _DAY_MS / _SECOND_MS / 2

    def corrected(self, stored: Ints) -> Ints:
        """Set the moments of the memory right, in milliseconds; same shape and order as `stored`."""
        found: Ints = np.rint(stored - self.offset).astype(np.int64)
        return found


def logger_clock(
    stored: Ints,
    limits: ClockLimits,
    *,
    beats: Ints | None = None,
    interval_s: float | None = None,
    anchors: Anchors | None = None,
    changes: tuple[Ints, Ints] | None = None,
    ended: float = float("nan"),
) -> LoggerClock:
    """Find how far a logger's clock was off, read by read.

    Parameters
    ----------
    stored : numpy.ndarray of int64, shape (n,)
        All moments in the order of the memory, in milliseconds since 1970.
    limits : ClockLimits
    beats : numpy.ndarray of int, shape (b,)
        Positions of the reads of a marker tag, in order.
    interval_s : float, optional
        Seconds between its beats; without it the interval found is taken to be a whole number of seconds.
    anchors : Anchors, optional
        Reads whose true moment is known. Without any, the clock is taken to be right at its first read, and
        what is found is how it went from there.
    changes : tuple of two numpy.ndarray of int64, optional
        Moments, as clocks show them, at which clocks are legally put on by an hour, and back by one.
    ended : float
        By how many milliseconds the logger ended after others, by its own clock; nan where these did not end
        together.

    Returns
    -------
    LoggerClock
        Without pieces where there are more steps than a clock can have: then the reads are not in the order
        of the memory, or the marker does not beat evenly.

    Notes
    -----
    A marker has a clock of its own: what is told by its beats is the difference of the two. A step by a whole
    number of intervals moves no beat; it is seen where the memory goes back or leaps, or by anchors.
    """
    none = np.zeros(0, dtype=np.int64)
    anchors = anchors or Anchors(none, np.zeros(0))
    forward, backs = (none, none) if changes is None else changes
    marker = marker_of(stored, none if beats is None else beats, interval_s, limits)
    found = cuts(stored, limits, marker, anchors, forward, ended)
    sure = {place: p for place, p in found.items() if p >= limits.sure}
    if len(sure) > limits.steps_most:
        return LoggerClock((), np.zeros(len(stored)))
    parts = clock_parts(stored, list(sure), marker, anchors, limits)
    level, ways = levels(stored, parts, marker, limits, backs, ended)
    offset = np.zeros(len(stored))
    pieces: list[LoggerPiece] = []
    for part, one, way in zip(parts, level, ways, strict=True):
        p = sure.get(part.first, 1.0)
        if np.isnan(one):
            pieces.append(LoggerPiece(part.first, part.end - 1, "other", one, 0.0, known=False, p=p))
            continue
        value = part.shape + one
        offset[part.first : part.end] = value
        span = float(stored[part.end - 1] - stored[part.first])
        drift = float(value[-1] - value[0]) / span if span > 0 else 0.0
        middle = float(np.median(value)) / _SECOND_MS
        kind = _kind(middle, float(stored[part.first]) / _SECOND_MS, limits)
        pieces.append(LoggerPiece(part.first, part.end - 1, kind, middle, drift, known=True, p=p, ways=way))
    doubtful = tuple((place, p) for place, p in found.items() if p < limits.sure)
    beaten = len(marker.place) > 1
    return LoggerClock(
        tuple(pieces), offset, doubtful, len(anchors.place) > 0, beaten, marker.beat / _SECOND_MS
    )


def _kind(offset_s: float, shown_s: float, limits: ClockLimits) -> str:
    if abs(offset_s) < limits.step_s:
        return "right"
    if abs(abs(offset_s) - _HOUR_MS / _SECOND_MS) <= limits.hour_within_s:
        return "hour"
    day_s = _DAY_MS / _SECOND_MS
    if any(0 <= shown_s - start <= limits.started_d * day_s for start in limits.starts) and offset_s < -day_s:
        return "reset"
    if abs(offset_s) > day_s / 2:
        true = np.array([shown_s - offset_s])
        if abs(exchange_day_and_month(true)[0] - shown_s) < day_s / 2:
            return "exchanged"
    return "other"

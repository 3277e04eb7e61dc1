"""An hour that a log tells twice: rows sorted by time, of a logger whose clock was put back by an hour."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import logsumexp

from audit.models.hour_holes import ended_told, habit_shift

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.clock_limits import ClockLimits

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["DoubledHour", "doubled_hour"]

_HOUR_MS = 3_600_000
_DAY_MS = 24 * _HOUR_MS


@dataclass(frozen=True, slots=True)
class DoubledHour:
    """An hour told twice.

    Attributes
    ----------
    start, end : int
        Its first and last moment by the clock that was put back after it, in milliseconds.
    p : float
        Probability that the clock was put back by an hour anywhere; that it was then is the likeliest.
    """

    start: int
    end: int
    p: float


def doubled_hour(
    beats: Floats, beat_ms: float, birds: Ints, backs: Ints, limits: ClockLimits, ended: float = float("nan")
) -> DoubledHour | None:
    """Find an hour in which beats of a marker were read twice as often.

    Parameters
    ----------
    beats : numpy.ndarray of float, shape (n,)
        Every read of the marker, drift taken out, in milliseconds and in order.
    beat_ms : float
        Interval of the marker; an hour must be a whole number of them.
    birds : numpy.ndarray of int64
        Moments of birds, as far as they are known.
    backs : numpy.ndarray of int64
        Moments, by the clock, at which clocks are legally put back by an hour.
    limits : ClockLimits
    ended : float
        By how many milliseconds the logger ended after others, by its own clock; nan where these did not end
        together.

    Returns
    -------
    DoubledHour or None
        The likeliest; nothing where nothing speaks for any.

    Notes
    -----
    Each beat is read by no, one or more antennas, as often as around that hour; in an hour told twice as
    often as two beats together. Whether birds keep their hours by the one clock or the other tells, too.
    """
    many = round(_HOUR_MS / beat_ms) if beat_ms else 0
    if many < 1 or abs(many * beat_ms - _HOUR_MS) > 1 or len(beats) < limits.beats_least:
        return None
    first = float(beats[0])
    slot = np.rint((beats - first) / beat_ms).astype(np.int64)
    count = np.bincount(slot)
    most = int(count.max())
    if most < 2 or len(count) < limits.doubled_least_h * many:  # noqa: PLR2004 - twice is more than once
        return None
    whole = np.bincount(count, minlength=2 * most + 1) / len(count)
    so_far = np.concatenate([[0], np.cumsum(count)])
    # nearer to twice the usual than to once
    starts = np.flatnonzero(so_far[many:] - so_far[:-many] > limits.doubled_times * count.mean() * many)
    if not len(starts):
        return None
    near = max(many, round(limits.doubled_around_h * _HOUR_MS / beat_ms))
    ground = limits.doubled_worth * whole + limits.doubled_unseen
    told = np.array([_likelier(count, int(one), many, near, ground) for one in starts])
    before = np.full(len(starts), np.log(limits.hour_other))
    shown = first + (starts + many) * beat_ms
    for one in backs.tolist():
        before[np.abs(shown - one) <= limits.doubled_legal * beat_ms] = np.log(limits.hour_legal)
    told += before
    best = int(np.argmax(told))
    start = int(first + (starts[best] - 0.5) * beat_ms)
    end = start + _HOUR_MS
    reach = limits.profile_d * _DAY_MS
    habits = habit_shift(
        birds[(birds < start) & (birds > start - reach)],
        birds[(birds > end) & (birds < end + reach)],
        -_HOUR_MS,
        limits,
    )
    total = float(np.clip(logsumexp(told) + habits + ended_told(ended, -_HOUR_MS, limits), -700, 700))
    return DoubledHour(start, end, float(1 / (1 + np.exp(-total))))


def _likelier(count: Ints, start: int, many: int, near: int, ground: Floats) -> float:
    """Log of how much likelier counts in an hour are if each is of two beats."""
    around = np.concatenate([count[max(0, start - near) : start], count[start + many : start + many + near]])
    seen = np.bincount(around, minlength=len(ground)) + ground
    once = seen / seen.sum()
    twice = np.convolve(once, once)
    inside = count[start : start + many]
    return float((np.log(twice[inside]) - np.log(once[inside])).sum())

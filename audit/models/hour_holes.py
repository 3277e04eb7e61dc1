"""Holes of an hour in a log: whether the clock was put on, or the logger heard nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.clock_limits import ClockLimits

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["ended_told", "habit_shift", "hour_hole_p"]

_HOUR_MS = 3_600_000
_DAY_MS = 24 * _HOUR_MS
#: A day in slices of ten minutes.
_SLICE_MS = 600_000
_SLICES = _DAY_MS // _SLICE_MS
#: Weights of neighbouring slices.
_KERNEL = np.array([1.0, 2.0, 3.0, 2.0, 1.0]) / 9.0


def habit_shift(before: Ints, after: Ints, shift_ms: int, limits: ClockLimits) -> float:
    """Weigh whether birds keep their hours by a clock that was put on, or by one that was not.

    Parameters
    ----------
    before, after : numpy.ndarray of int64
        Moments of birds on either side, in milliseconds.
    shift_ms : int
        By how much the clock would have been put on.
    limits : ClockLimits
        Its ``profile_worth`` is the share of a slice's evidence that counts, since neighbours tell the same.

    Returns
    -------
    float
        Natural logarithm of how much likelier the later moments are if the clock was put on; 0 where nothing
        is known of either side.
    """
    if not len(before) or not len(after):
        return 0.0
    told = _one_way(before, after, shift_ms, limits.profile_unseen)
    told += _one_way(after, before, -shift_ms, limits.profile_unseen)
    # a night or two are no habit
    days = min(_slices(one)[1] for one in (before, after))
    most = limits.profile_most * min(1.0, days / limits.profile_days)
    return float(np.clip(limits.profile_worth * told / 2, -most, most))


def ended_told(ended: float, shift_ms: int, limits: ClockLimits) -> float:
    """Weigh by the end of a logger whether its clock was set on meanwhile, where others ended together.

    Parameters
    ----------
    ended : float
        By how many milliseconds it ended after them, by its own clock; nan where they did not end together.
    shift_ms : int
        By how much its clock would have been set on.
    limits : ClockLimits

    Returns
    -------
    float
        Natural logarithm of how much likelier that is if it was; 0 where nothing is known.
    """
    # one that ended with the others may have been put on as they were
    within = limits.ended_within_s * 1000
    return limits.ended_gains if abs(ended - shift_ms) <= within else 0.0


def _one_way(known: Ints, asked: Ints, shift_ms: int, unseen: float) -> float:
    seen, days = _slices(known)
    share = (_smooth(seen) + unseen) / (days + 2 * unseen)
    count, nights = _slices(asked)
    moved = np.roll(share, shift_ms // _SLICE_MS)

    def likely(p: Floats) -> float:
        return float((count * np.log(p) + (nights - count) * np.log1p(-p)).sum())

    return likely(moved) - likely(share)


def _slices(moments: Ints) -> tuple[Floats, int]:
    """Count the days on which each slice of the day has a read; and the days."""
    slices = np.unique(moments // _SLICE_MS)
    days = int(slices[-1] // _SLICES - slices[0] // _SLICES) + 1
    return np.bincount(slices % _SLICES, minlength=_SLICES).astype(np.float64), days


def _smooth(seen: Floats) -> Floats:
    reach = len(_KERNEL) // 2
    return sum(
        (weight * np.roll(seen, lag) for lag, weight in zip(range(-reach, reach + 1), _KERNEL, strict=True)),
        start=np.zeros(_SLICES),
    )


def hour_hole_p(
    birds: Ints,
    hole: tuple[int, int],
    missed: tuple[int, int],
    heard: float,
    limits: ClockLimits,
    *,
    legal: bool,
    ended: float = float("nan"),
) -> float:
    """Say how likely it is that the clock was put on by an hour in a hole of an hour and a beat.

    Parameters
    ----------
    birds : numpy.ndarray of int64
        Moments of birds as the clock showed them, on both sides of the hole.
    hole : tuple of int
        Last moment before the hole, first one after it.
    missed : tuple of int
        Beats missed if the clock was put on, and if it was not.
    heard : float
        Share of beats heard.
    legal : bool
        Clocks are legally put on within the hole.
    ended : float
        By how many milliseconds the logger ended after others, by its own clock; nan where these did not end
        together.

    Returns
    -------
    float

    Notes
    -----
    Four beats of a marker that beats every quarter of an hour are missed in a row once in a hundred thousand
    beats, and loggers lose their power for an hour: both are about as rare as somebody who puts a clock on by
    just an hour. So it counts whether birds are missing in that hour, too, and whether they come an hour
    later by the clock from then on.
    """
    low, high = hole
    near = np.int64(limits.profile_d * _DAY_MS)
    before = birds[(birds <= low) & (birds > low - near)]
    after = birds[(birds >= high) & (birds < high + near)]
    lost = 1 - min(heard, 0.99)
    # birds of a usual day in the shown hour that has no reads
    usual = _usual_in_hour(before, after, low, high)
    by_chance = lost ** (missed[1] - missed[0]) * np.exp(-usual) + limits.hour_off
    odds = (limits.hour_legal if legal else limits.hour_other) / by_chance
    told = np.log(odds) + min(habit_shift(before, after, _HOUR_MS, limits), limits.profile_hole)
    told += ended_told(ended, _HOUR_MS, limits)
    return float(1 / (1 + np.exp(-np.clip(told, -700, 700))))


def _usual_in_hour(before: Ints, after: Ints, low: int, high: int) -> float:
    """How many slices with birds the hole would have on another day."""
    first, end = low // _SLICE_MS + 1, high // _SLICE_MS
    inside = np.arange(first, end) % _SLICES
    total, days = 0.0, 0
    for side in (before, after):
        if len(side):
            seen, n = _slices(side)
            total, days = total + float(seen[inside].sum()), days + n
    return total / days if days else 0.0

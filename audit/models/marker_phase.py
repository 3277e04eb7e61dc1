"""Where in its interval a marker tag beats, and what is believed of the moments of beats."""

from __future__ import annotations

from dataclasses import dataclass
from math import gcd
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["BeatTimes", "MarkerPhase", "RoundLimits", "Setting", "phase_of"]

_SECOND_MS = 1000.0
_DAY_S = 86_400
_HOUR_S = 3_600


@dataclass(frozen=True, slots=True)
class RoundLimits:
    """Numbers by which it is weighed; those of ``antennas.clock`` under the same names, after ``round_``.

    Attributes
    ----------
    before : float
        Chance that the marker tags of a log beat at round moments, before any was heard.
    together : float
        Chance that they beat together at moments that are not round.
    rare_before, rare_together : float
        The same of markers that beat more rarely than once in an hour.
    rare_near_s : float
        Such a marker tells the time by itself if it beats no further from a full hour, in seconds.
    scales_s : tuple of float
        Standard deviations of how far off clocks are, in seconds: of clocks that are right, and of others.
    parts : int
        Each kind of clock has a share of so many parts of the whole; all divisions are equally likely.
    beyond : float
        Share of clocks that are off by anything.
    trusted : float
        Chance that the interval was chosen so that clocks are seldom off by half of it.
    trusted_part : float
        None of the standard deviations is then larger than this share of the interval.
    sure : float
        Clocks are set right that are so much likelier off by what beats tell than right as logged.
    least : float
        And only where that is likelier than all else together.
    certain : float
        From this probability on nothing is left open about a clock.
    alike_s : float
        Markers at the two antennas of a box that beat within so many seconds of each other are one marker.
    """

    before: float
    together: float
    rare_before: float
    rare_together: float
    rare_near_s: float
    scales_s: tuple[float, ...]
    parts: int
    beyond: float
    trusted: float
    trusted_part: float
    sure: float
    least: float
    certain: float
    alike_s: float


@dataclass(frozen=True, slots=True)
class Setting:
    """A time at which a clock was set.

    Attributes
    ----------
    further_s : float
        By how many seconds it was then further ahead than at first.
    by_s : float
        By how many seconds it was set on.
    piece : int
        Number of the piece of the clock that begins there.
    ways : tuple of (int, float)
        By how many more whole multiples of `MarkerPhase.every_s` it may have been set on, and how likely that
        is beside the likeliest; empty where nothing tells.
    """

    further_s: float
    by_s: float
    piece: int = 1
    ways: tuple[tuple[int, float], ...] = ()


@dataclass(frozen=True, slots=True)
class MarkerPhase:
    """Where in its interval a marker beats, by the clock of one logger.

    Attributes
    ----------
    off_s : float
        Seconds after the nearest round moment: a whole multiple of the interval since midnight, or, of one
        longer than an hour, a full hour; where the interval does not divide a day, a multiple of it since
        1970.
    every_s : float
        Seconds from one round moment to the next: the interval, or where that is longer than an hour the
        longest time that fills both. Where it is declared when the marker beats, seconds from one of these
        moments to the next, and ``off_s`` is of the nearest of them.
    again : tuple of Setting
        The times at which the clock was set meanwhile, in order.
    sd_s : float or None
        Where visits told how far the clock was off, and only what they leave open is this phase: by how many
        seconds they usually err.
    rare : bool
        It beats more rarely than once in an hour, and so need not beat at full hours.
    declared : bool
        It is declared when it beats.
    """

    off_s: float
    every_s: float
    again: tuple[Setting, ...] = ()
    sd_s: float | None = None
    rare: bool = False
    declared: bool = False

    @property
    def divides_day(self) -> bool:
        """Whether it can beat at the same round moments every day."""
        return _DAY_S % self.every_s == 0


@dataclass(frozen=True, slots=True)
class BeatTimes:
    """What is believed of the moments at which markers beat.

    Attributes
    ----------
    p_round : float
        Probability that they beat at round moments.
    p_together : float
        That they beat together at others.
    shift_s : tuple of float
        By logger, seconds after a round moment at which its marker is likeliest to beat truly; 0 but where
        markers beat together at other moments.
    p : tuple of float
        By logger, probability that its clock was off at first by its phase, less the shift and with the turns
        of `along`: that its marker beats so, and that this beat is the right one.
    along : tuple of tuple of (int, float)
        By logger, for its first reads and after each setting: by how many multiples of its `every_s` more it
        is likeliest to have been ahead than by its phase and the steps, and the probability of that.
    """

    p_round: float
    p_together: float
    shift_s: tuple[float, ...]
    p: tuple[float, ...]
    along: tuple[tuple[tuple[int, float], ...], ...] = ()


def phase_of(beats: Floats, every_s: float, moments: Sequence[int] = ()) -> MarkerPhase | None:
    """Find where in its interval a marker beats.

    Parameters
    ----------
    beats : numpy.ndarray of float, shape (n,)
        Moments in milliseconds since 1970, by a clock that was not touched.
    every_s : float
    moments : sequence of int
        Declared moments of the day at which it beats, at even intervals, in seconds since midnight. They tell
        nothing of a marker whose interval does not divide a day.

    Returns
    -------
    MarkerPhase or None
        Nothing without beats, or without an interval.
    """
    if not len(beats) or not np.isfinite(every_s) or every_s < 1:
        return None
    whole = round(every_s)
    if moments and whole == every_s and _DAY_S % whole == 0:
        between = float(gcd(whole, _DAY_S // len(moments)))
        return MarkerPhase(_middle(beats - moments[0] * _SECOND_MS, between), between, declared=True)
    rare = every_s > _HOUR_S
    every_s = _round_every(every_s)
    return MarkerPhase(_middle(beats, every_s), every_s, rare=rare)


def _middle(beats: Floats, every_s: float) -> float:
    """Seconds after the nearest multiple of an interval at which beats usually are."""
    turn = every_s * _SECOND_MS
    angle = beats % turn * (2 * np.pi / turn)
    middle = float(np.angle(np.exp(1j * angle).mean())) * turn / (2 * np.pi)
    off = (beats - middle + turn / 2) % turn - turn / 2
    return ((middle + float(np.median(off)) + turn / 2) % turn - turn / 2) / _SECOND_MS


def _round_every(every_s: float) -> float:
    """Seconds from one round moment to the next, for a marker of an interval.

    Who sets a timer to beat once a day sets it to a full hour, mostly not to midnight.
    """
    whole = round(every_s)
    if whole <= _HOUR_S or abs(every_s - whole) > 0:
        return every_s
    return float(gcd(whole, _HOUR_S))

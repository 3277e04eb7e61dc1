"""Whether marker tags beat at round moments, so that their beats tell what time it was."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import logsumexp

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["MarkerPhase", "RoundLimits", "on_the_round", "phase_of"]

_SECOND_MS = 1000.0
_DAY_S = 86_400


@dataclass(frozen=True, slots=True)
class RoundLimits:
    """Numbers by which it is weighed; those of ``antennas.clock`` under the same names, after ``round_``.

    Attributes
    ----------
    before : float
        Chance that the marker tags of a log beat at round moments, before any was heard.
    right_s : float
        How closely a clock that is right shows a round moment, in seconds.
    scales_s : tuple of float
        How far clocks that are off usually are, in seconds; each equally likely.
    shares : tuple of float
        Shares of clocks that are right; each equally likely.
    """

    before: float
    right_s: float
    scales_s: tuple[float, ...]
    shares: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class MarkerPhase:
    """Where in its interval a marker beats, by the clock of one logger.

    Attributes
    ----------
    off_s : float
        Seconds after the nearest whole multiple of the interval since midnight.
    every_s : float
        Its interval in seconds.
    """

    off_s: float
    every_s: float


def phase_of(beats: Floats, every_s: float) -> MarkerPhase | None:
    """Find where in its interval a marker beats.

    Parameters
    ----------
    beats : numpy.ndarray of float, shape (n,)
        Moments in milliseconds since 1970, by a clock that was not touched.
    every_s : float

    Returns
    -------
    MarkerPhase or None
        Nothing where the interval does not divide a day: such a marker beats at other moments every day.
    """
    if not len(beats) or not np.isfinite(every_s) or every_s < 1 or _DAY_S % every_s:
        return None
    turn = every_s * _SECOND_MS
    angle = beats % turn * (2 * np.pi / turn)
    middle = float(np.angle(np.exp(1j * angle).mean())) * turn / (2 * np.pi)
    off = (beats - middle + turn / 2) % turn - turn / 2
    found = (middle + float(np.median(off)) + turn / 2) % turn - turn / 2
    return MarkerPhase(found / _SECOND_MS, every_s)


def on_the_round(phases: Sequence[MarkerPhase], limits: RoundLimits) -> float:
    """Weigh whether the marker tags of a log beat at round moments.

    Parameters
    ----------
    phases : sequence of MarkerPhase
        One for each logger.
    limits : RoundLimits

    Returns
    -------
    float
        Probability that they do.

    Notes
    -----
    Bayes' rule. Markers that were started at any moment have any phase, each box its own. Those that beat on
    the round show how far each clock is off: none, as closely as it shows seconds (normal), or by some
    minutes (a double exponential within half an interval). Which share is right, and how far the others
    usually are off, is left open and averaged over. One phase that is a few minutes off tells little; one
    that is 0 tells much.
    """
    if not phases:
        return limits.before
    off = np.array([abs(one.off_s) for one in phases])
    every = np.array([one.every_s for one in phases])
    right = np.exp(-0.5 * (off / limits.right_s) ** 2) / (limits.right_s * np.sqrt(2 * np.pi))
    scale = np.array(limits.scales_s)[:, None]
    away = np.exp(-off / scale) / (2 * scale * (1 - np.exp(-every / 2 / scale)))
    share = np.array(limits.shares)[:, None, None]
    ratio = np.log((share * right + (1 - share) * away) * every).sum(axis=2)
    told = float(logsumexp(ratio)) - np.log(ratio.size)
    told += np.log(limits.before) - np.log1p(-limits.before)
    return float(np.exp(-np.logaddexp(0.0, -told)))

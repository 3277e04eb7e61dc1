"""Whether a silence of a box begins and ends where its birds rest, as one does that they make themselves."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.health_beliefs import HealthBeliefs
    from audit.models.night_habits import Habits
    from audit.models.silence import Silence

    Floats = NDArray[np.float64]

__all__ = ["edges_at_rest", "near_rest"]

#: Rests that the last bout before any moment may lie beside; earlier ones are too far away to matter.
_RESTS = np.arange(-3, 2)


def edges_at_rest(habits: Habits, silence: Silence, total: float, beliefs: HealthBeliefs) -> float:
    """Give how many times likelier its edges are if the birds stayed away than if the logger was dead.

    Parameters
    ----------
    habits : Habits
        Of the box.
    silence : Silence
        Within the log: birds that begin to come, or cease to, do so at any hour.
    total : float
        Bouts of all birds in a night at that time.
    beliefs : HealthBeliefs
        Of silences that birds make, `rest_kept` begin and end with a rest, to `rest_part` of a night.

    Notes
    -----
    A logger dies, and is mended, at any hour; birds that do not come for a night are heard until they rest,
    and again after they rested. So an edge amid what goes on in a night speaks for a dead logger, and two
    edges at rest speak against it, the more the shorter the rest of the day is. Birds that hardly rest tell
    less.
    """
    rests = beliefs.rest_kept * _rest(habits, beliefs.quiet_h)
    if total <= 0 or rests <= 0:
        return 1.0
    start, end = np.mod(habits.share(np.array([silence.start, silence.end])), 1.0).tolist()
    # a half hour of the clock is as likely to be the one as any other
    moments = (habits.passed[1:] + habits.passed[:-1]) / 2
    away = float(near_rest(np.array(beliefs.rest_part), total, beliefs.rest_part))
    found = 1.0
    for phase, hours in ((start, moments), (1.0 - end, 1.0 - moments)):
        dead = float(near_rest(hours, total, beliefs.rest_part).mean())
        kept = rests * away + (1 - rests) * dead
        near = min(phase, 1.0 - phase) <= beliefs.rest_part
        found *= kept / dead if near else (1 - kept) / (1 - dead)
    return found


def _rest(habits: Habits, hours: float) -> float:
    """Give the share by which the quietest hours of a day are quieter than if birds came evenly."""
    bins = len(habits.passed) - 1
    wide = round(bins * hours / 24)
    day = np.concatenate([habits.passed, 1 + habits.passed[1:]])
    return float(1 - (day[wide : wide + bins] - day[:bins]).min() * bins / wide)


def near_rest(moment: Floats, total: float, part: float) -> Floats:
    """Give the chance that the last bout before a moment lies beside a rest.

    Parameters
    ----------
    moment : numpy.ndarray of float
        In nights since the rest before the night.
    total : float
        Bouts in a night.
    part : float
        So near to a rest is beside it, in nights.

    Returns
    -------
    numpy.ndarray of float
        Bouts come by themselves (Poisson), so the time since the last one is exponential.

    Examples
    --------
    >>> round(float(near_rest(np.array(0.5), 5.0, 0.1)), 4)  # by hand: exp(-5 * 0.4) - exp(-5 * 0.6)
    0.0855
    """
    asked = np.asarray(moment, dtype=np.float64)[..., None]
    low = np.minimum(_RESTS - part, asked)
    high = np.minimum(_RESTS + part, asked)
    found: Floats = (np.exp(-total * (asked - high)) - np.exp(-total * (asked - low))).sum(axis=-1)
    return np.clip(found, 1e-6, 1 - 1e-6)

"""When a dead spell began and ended, as far as what was missed tells."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.night_habits import Habits
    from audit.models.silence import Silence

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["dead_between", "when_deaf"]

_STEP_MS = 600_000


def when_deaf(silence: Silence, missed: Ints, chance: Floats) -> tuple[int, int]:
    """Say when a deaf spell began and ended, as far as what was missed tells.

    Parameters
    ----------
    silence : Silence
    missed : numpy.ndarray of int64, shape (j,)
        What the antenna should have heard, in order, in milliseconds.
    chance : numpy.ndarray of float, shape (j,)
        Chance that it misses each though it is awake.

    Returns
    -------
    start, end : int
        Medians: the spell is as likely to begin at any moment, and what it is said to have missed before it
        began, it missed by chance. A spell that opens or closes the log reaches to its end.
    """
    start, end = silence.start, silence.end
    if len(missed) == 0:
        return start, end
    found_start = start if silence.opens else _median(start, missed, chance)
    found_end = end if silence.closes else -_median(-end, -missed[::-1], chance[::-1])
    return found_start, max(found_end, found_start + 1)


def _median(start: int, missed: Ints, chance: Floats) -> int:
    edges = np.concatenate([[start], missed]).astype(np.float64)
    by_chance = np.concatenate([[1.0], np.cumprod(chance[:-1])])
    mass = np.cumsum(np.diff(edges) * by_chance)
    half = mass[-1] / 2
    k = int(np.searchsorted(mass, half))
    before = mass[k - 1] if k else 0.0
    return int(edges[k] + (half - before) / by_chance[k])


def dead_between(habits: Habits, silence: Silence, rate: float) -> tuple[int, int]:
    """Say when a dead spell began and ended: as likely at any moment, and birds were missed in it only.

    Parameters
    ----------
    habits : Habits
    silence : Silence
    rate : float
        Bouts in a night.

    Returns
    -------
    start, end : int
        Medians, in milliseconds; a spell that opens or closes the log reaches to its end.
    """
    moments = np.append(np.arange(silence.start, silence.end, _STEP_MS), silence.end)
    passed = habits.share(moments) * rate
    from_start = np.cumsum(np.exp(-(passed - passed[0])))
    from_end = np.cumsum(np.exp(-(passed[-1] - passed))[::-1])
    start = silence.start if silence.opens else moments[int(np.searchsorted(from_start, from_start[-1] / 2))]
    end = silence.end if silence.closes else moments[::-1][int(np.searchsorted(from_end, from_end[-1] / 2))]
    return int(start), int(max(end, start + 1))

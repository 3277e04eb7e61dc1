"""How each bird of a box uses to come, and what silences of the whole box there were."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from audit.models.box_log import DAY_MS, HOUR_MS
from audit.models.night_habits import Habits, absences, habits_of, pause_chance, shared_spread, spreads_of
from audit.models.silence import Silence, silences

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.models.box_log import BoxLog
    from audit.models.health_beliefs import HealthBeliefs

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Ints = NDArray[np.int64]

__all__ = ["BoxHabits", "BoxSilence", "box_habits", "rates"]


@dataclass(frozen=True, slots=True)
class BoxSilence:
    """A night or more in which neither antenna of a box heard anything.

    Attributes
    ----------
    silence : Silence
        It opens, or closes, the log also where no habit is known of what lies beyond.
    mass : float
        How much of the usual bouts of a night lies in it, in nights.
    rate : numpy.ndarray of float, shape (b,)
        Bouts of each bird in a night at that time; 0 of birds that were not there on both sides.
    by_pause : numpy.ndarray of float, shape (b,)
        Chance of each bird to pause for so long, as its other pauses are.
    beside : numpy.ndarray of float, shape (b,)
        For how much longer than the box was silent each bird was not heard, at that end at which it was
        longer, in nights.
    neighbours : tuple of int
        How many other boxes fell silent in the same hours, of how many in which birds were to be expected.
    elsewhere : numpy.ndarray of float, shape (b,)
        How much likelier it is that each bird stayed away, by where else it was heard; 1 where it was not.
    away : numpy.ndarray of float, shape (b,)
        Absences of each bird that the silence is thought to be.
    dead : float
        Probability that the logger was dead.
    """

    silence: Silence
    mass: float
    rate: Floats
    by_pause: Floats
    beside: Floats
    neighbours: tuple[int, int]
    elsewhere: Floats
    away: Floats
    dead: float


@dataclass(frozen=True, slots=True)
class BoxHabits:
    """Habits of a box, and its silences.

    Attributes
    ----------
    habits : Habits
    spread : numpy.ndarray of float, shape (b,)
        By bird, as in `audit.models.night_habits`.
    begun, asked, by_chance : numpy.ndarray of float, shape (b,)
        Times without each bird in nights in which the logger was heard of, as in
        `audit.models.night_habits.absences`.
    spread_all : float
        Of all birds of the box together.
    silent : tuple of BoxSilence
        In order.
    """

    habits: Habits
    spread: Floats
    begun: Floats
    asked: Floats
    by_chance: Floats
    spread_all: float
    silent: tuple[BoxSilence, ...]


def box_habits(logs: Sequence[BoxLog], beliefs: HealthBeliefs) -> list[BoxHabits]:
    """Learn the habits of all boxes.

    Parameters
    ----------
    logs : sequence of BoxLog
    beliefs : HealthBeliefs

    Returns
    -------
    list of BoxHabits
        Of a silence nothing is known yet but how many birds were silent at once: the more, the less likely
        they were all away. What other boxes did meanwhile, `audit.models.box_neighbours` tells.
    """
    quiet = [silences(log.all_times, log.start, log.end, beliefs.quiet_h * HOUR_MS - 1) for log in logs]
    edges = [np.array([(q.start, q.end) for q in one], dtype=np.int64).reshape(-1, 2) for one in quiet]
    habits = [habits_of(log, one, beliefs) for log, one in zip(logs, edges, strict=True)]
    spread = shared_spread(habits, beliefs)
    found = []
    for log, one, some, at in zip(logs, habits, quiet, edges, strict=True):
        whole = Habits(one.cut, one.first, one.passed, one.tags[:1], one.bouts.sum(axis=0)[None], one.whole)
        masses = np.diff(one.share(at))[:, 0].tolist()
        silent = tuple(
            _silent(log, one, silence, mass, beliefs)
            for silence, mass in zip(some, masses, strict=True)
            if mass >= beliefs.night_part and len(one.tags)
        )
        own = spreads_of(one, spread, beliefs)
        all_ = float(spreads_of(whole, spread, beliefs)[0]) if len(one.tags) else spread
        found.append(BoxHabits(one, own, *absences(one, own), all_, silent))
    return found


def _silent(log: BoxLog, habits: Habits, silence: Silence, mass: float, beliefs: HealthBeliefs) -> BoxSilence:
    start, end = np.array([[silence.start], [silence.end]])
    before, after = (one[0] for one in rates(habits, start, end, beliefs))
    # a stray read or two on the first day are no habit: nothing is known of what lies beyond
    opens = silence.opens or (not before.any() and silence.start - log.start < DAY_MS)
    closes = silence.closes or (not after.any() and log.end - silence.end < DAY_MS)
    if not (silence.opens and silence.closes):
        silence = replace(silence, opens=opens and not closes, closes=closes and not opens)
    rate = after if silence.opens else before if silence.closes else np.minimum(before, after)
    told = rate > 0
    alone = 1.0 / max(int(told.sum()), 1) ** 2
    away = np.where(told, 0.0 if silence.opens or silence.closes else alone, 0.0)
    pauses = _by_pause(log, habits, silence, mass, told, beliefs.pauses_longest)
    beside = _unheard_beside(log, habits, silence)
    return BoxSilence(silence, mass, rate, pauses, beside, (0, 0), np.ones(len(told)), away, 1 - alone)


def _by_pause(
    log: BoxLog, habits: Habits, silence: Silence, mass: float, told: Flags, longest: int
) -> Floats:
    """Chance of each bird to pause for so long, the silence itself left out."""
    found = np.ones(len(told))
    edges = np.searchsorted(log.bouts.tag, [habits.tags, habits.tags + 1]).T.tolist()
    for k in np.flatnonzero(told).tolist():
        low, high = edges[k]
        begin, stop = log.bouts.begin[low:high], log.bouts.stop[low:high]
        pauses = np.maximum(habits.share(begin[1:]) - habits.share(stop[:-1]), 0.0)
        beside = (stop[:-1] <= silence.start) & (begin[1:] >= silence.end)
        nights = float(habits.share(stop[-1:])[0] - habits.share(begin[:1])[0] - pauses[beside].sum())
        found[k] = min(1.0, pause_chance(pauses[~beside], nights, mass, longest))
    return found


def rates(habits: Habits, start: Ints, end: Ints, beliefs: HealthBeliefs) -> tuple[Floats, Floats]:
    """Bouts of each bird in a night shortly before and after silences; none where it was not there then.

    Parameters
    ----------
    habits : Habits
        Of b birds.
    start, end : numpy.ndarray of int64, shape (k,)
        Of the silences, in milliseconds.
    beliefs : HealthBeliefs

    Returns
    -------
    before, after : numpy.ndarray of float, shape (k, b)
    """
    whole = np.flatnonzero(habits.whole)
    edges = habits.night(np.stack([start, end]))
    # silences that begin, or end, in one night have the same nights beside them
    first, row = np.unique(np.searchsorted(whole, edges[0], side="right"), return_inverse=True)
    then, column = np.unique(np.searchsorted(whole, edges[1]), return_inverse=True)
    near = np.arange(beliefs.around)
    before = _in_a_night(habits, whole, first[:, None] - 1 - near, beliefs.around_least)
    after = _in_a_night(habits, whole, then[:, None] + near, beliefs.around_least)
    return before[row], after[column]


def _in_a_night(habits: Habits, whole: Ints, places: Ints, least: int) -> Floats:
    """Bouts of each bird in a night of those that stand at some places among all that are whole.

    `places` are of shape (k, nights), the nearest night first; what lies beyond the log is no night.
    """
    there = (places >= 0) & (places < len(whole))
    nights = whole[np.where(there, places, 0)] if len(whole) else np.zeros_like(places)
    some: Floats = np.where(there[:, None], habits.bouts[:, nights].swapaxes(0, 1), 0.0)
    # a bird that began, or ended, to come in these nights is asked of the nights since
    since = np.maximum.accumulate((some > 0)[..., ::-1], axis=-1)
    n = since.sum(axis=-1)
    return np.where(n >= least, some.sum(axis=-1) / np.maximum(n, 1), 0.0)


def _unheard_beside(log: BoxLog, habits: Habits, silence: Silence) -> Floats:
    """For how much longer than the box was silent each bird was not heard, at the worse end, in nights."""
    begin = log.bouts.begin
    low, high = np.searchsorted(log.bouts.tag, [habits.tags, habits.tags + 1])
    # bouts of one bird lie in the order of time
    sooner = np.concatenate([[0], np.cumsum(begin <= silence.start)])
    last = low + sooner[high] - sooner[low]
    before = np.where(last > low, begin[np.maximum(last - 1, 0)], silence.start)
    behind = np.where(last < high, begin[np.minimum(last, len(begin) - 1)], silence.end)
    here = np.full((2, len(low)), [[silence.start], [silence.end]])
    share = habits.share(np.stack([before, *here, behind]))
    found: Floats = np.maximum(share[1] - share[0], share[3] - share[2])
    return found

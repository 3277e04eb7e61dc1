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
    gone : numpy.ndarray of bool, shape (b,)
        Whether each bird was away for a whole night more than the box was silent, at either end.
    neighbours : tuple of int
        How many other boxes fell silent in the same hours, of how many in which birds were to be expected.
    away : numpy.ndarray of float, shape (b,)
        Absences of each bird that the silence is thought to be.
    dead : float
        Probability that the logger was dead.
    """

    silence: Silence
    mass: float
    rate: Floats
    by_pause: Floats
    gone: Flags
    neighbours: tuple[int, int]
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
        they were all away.
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
    return [
        replace(
            one,
            silent=tuple(
                replace(silent, neighbours=_neighbours(logs, found, which, silent.silence, beliefs))
                for silent in one.silent
            ),
        )
        for which, one in enumerate(found)
    ]


def _silent(log: BoxLog, habits: Habits, silence: Silence, mass: float, beliefs: HealthBeliefs) -> BoxSilence:
    before, after = rates(habits, silence, beliefs)
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
    gone = _away_beside(log, habits, silence)
    return BoxSilence(silence, mass, rate, pauses, gone, (0, 0), away, 1 - alone)


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


def rates(habits: Habits, silence: Silence, beliefs: HealthBeliefs) -> tuple[Floats, Floats]:
    """Bouts of each bird in a night shortly before and after; none where it was not there for nights."""
    edges = habits.night(np.array([silence.start, silence.end]))
    found = []
    for way in (0, 1):
        columns = np.flatnonzero(habits.whole)
        columns = columns[columns <= edges[0]][::-1] if way == 0 else columns[columns >= edges[1]]
        some = habits.bouts[:, columns[: beliefs.around]]
        # a bird that began, or ended, to come in these nights is asked of the nights since
        there = np.maximum.accumulate((some > 0)[:, ::-1], axis=1)[:, ::-1]
        n = there.sum(axis=1)
        found.append(np.where(n >= beliefs.around_least, some.sum(axis=1) / np.maximum(n, 1), 0.0))
    return found[0], found[1]


def _away_beside(log: BoxLog, habits: Habits, silence: Silence) -> NDArray[np.bool_]:
    """Whether each bird was away for a whole night more than the box was silent, at either end."""
    edges = np.searchsorted(log.bouts.tag, [habits.tags, habits.tags + 1])
    found = np.zeros(len(habits.tags), dtype=np.bool_)
    for k, (low, high) in enumerate(edges.T.tolist()):
        last = int(np.searchsorted(log.bouts.begin[low:high], silence.start, side="right"))
        beside = [log.bouts.begin[low + last - 1] if last else silence.start, silence.start, silence.end]
        beside.append(log.bouts.begin[low + last] if low + last < high else silence.end)
        a, b, c, d = habits.share(np.array(beside)).tolist()
        found[k] = max(b - a, d - c) >= 1.0
    return found


def _neighbours(
    logs: Sequence[BoxLog], known: Sequence[BoxHabits], which: int, silence: Silence, beliefs: HealthBeliefs
) -> tuple[int, int]:
    """How many other boxes fell silent in the same hours, of those in which birds were to be expected."""
    silent = asked = 0
    for k, (log, one) in enumerate(zip(logs, known, strict=True)):
        if k == which or log.start > silence.start or log.end < silence.end:
            continue
        before, after = rates(one.habits, silence, beliefs)
        # near an end of the log one side alone tells what is usual
        if not before.any() or not after.any():
            before = after = np.maximum(before, after)
        low, high = one.habits.share(np.array([silence.start, silence.end])).tolist()
        if np.minimum(before, after).sum() * (high - low) < beliefs.neighbour_bouts:
            continue
        asked += 1
        # the last birds of the evening before, and the first after it, keep no common time
        begin = log.bouts.begin
        share = one.habits.share(begin[(begin > silence.start) & (begin < silence.end)])
        heard = int(((share > low + beliefs.edge_part) & (share < high - beliefs.edge_part)).sum())
        usual = np.minimum(before, after).sum() * (high - low - 2 * beliefs.edge_part)
        silent += heard <= beliefs.few * usual
    return silent, asked

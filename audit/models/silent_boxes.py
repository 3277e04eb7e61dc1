"""Whether a box was empty, or its logger dead, while neither antenna heard anything."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from audit.models.box_log import DAY_MS, HOUR_MS
from audit.models.night_habits import Habits, aways_of, habits_of, none_in, shared_habits, spreads_of
from audit.models.silence import Silence

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.models.box_log import BoxLog
    from audit.models.health_beliefs import HealthBeliefs

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["BoxHabits", "box_habits", "odds_of_dead"]


@dataclass(frozen=True, slots=True)
class BoxHabits:
    """Habits of a box with what is drawn from all boxes.

    Attributes
    ----------
    habits : Habits
    spread, away : numpy.ndarray of float, shape (b,)
        By bird, as in `audit.models.night_habits`.
    worth_of_one : numpy.ndarray of float, shape (b,)
        What one absence adds to `away`.
    spread_all : float
        Of all birds of the box together.
    silences : int
        Nights or more in which neither antenna heard anything, between others.
    ends : int
        Such nights before the first read, and behind the last: none, one or two.
    """

    habits: Habits
    spread: Floats
    away: Floats
    worth_of_one: Floats
    spread_all: float
    silences: int
    ends: int


def box_habits(logs: Sequence[BoxLog], beliefs: HealthBeliefs) -> list[BoxHabits]:
    """Learn the habits of all boxes."""
    habits, quiet, at_ends = [], [], []
    for log in logs:
        times = np.concatenate([[log.start], log.all_times, [log.end]])
        where = np.flatnonzero(np.diff(times) >= beliefs.quiet_h * HOUR_MS)
        quiet.append(np.stack([times[where], times[where + 1]], axis=1))
        at_ends.append((where == 0) | (where == len(times) - 2))
        habits.append(habits_of(log, quiet[-1], beliefs.hidden))
    lone = [_lone_absences(one, edges, beliefs) for one, edges in zip(habits, quiet, strict=True)]
    shared = shared_habits(habits, lone, beliefs)
    made = []
    for one, more, edges, at_end in zip(habits, lone, quiet, at_ends, strict=True):
        spread = spreads_of(one, shared, beliefs)
        whole = Habits(one.cut, one.first, one.passed, one.tags[:1], one.bouts.sum(axis=0)[None], one.whole)
        all_ = spreads_of(whole, shared, beliefs)
        away, weight = aways_of(one, spread, more, shared, beliefs.worth_habits)
        nights = np.diff(one.share(edges))[:, 0] >= beliefs.night_part
        silences, ends = int((nights & ~at_end).sum()), int((nights & at_end).sum())
        made.append(BoxHabits(one, spread, away, weight, float(all_[0]), silences, ends))
    return made


def _lone_absences(habits: Habits, quiet: Ints, beliefs: HealthBeliefs) -> Floats:
    """Silences of a box by bird, where few birds came: the fewer, the likelier they were away."""
    found = np.zeros(len(habits.tags))
    share = habits.share(quiet)
    for k in np.flatnonzero(share[:, 1] - share[:, 0] >= beliefs.night_part).tolist():
        before, after = _rates(habits, Silence(*quiet[k].tolist()), beliefs)
        told = np.minimum(before, after) > 0
        found[told] += 1.0 / max(int(told.sum()), 1) ** 2
    return found


def odds_of_dead(
    logs: Sequence[BoxLog],
    known: Sequence[BoxHabits],
    which: int,
    silence: Silence,
    beliefs: HealthBeliefs,
    *,
    one_dead: bool = False,
) -> tuple[float, float]:
    """Weigh a silence of both antennas by the birds that were heard night after night around it.

    Parameters
    ----------
    logs : sequence of BoxLog
        All boxes that are looked at together.
    known : sequence of BoxHabits
        Their habits.
    which : int
        The silent one.
    silence : Silence
        Of both its antennas.
    beliefs : HealthBeliefs
    one_dead : bool
        A marker tells that one of its antennas was dead.

    Returns
    -------
    float
        Natural logarithm of the odds that the logger was dead.
    float
        How many bouts of birds are usual in a night at that time.

    Notes
    -----
    Were the logger awake, every bird that came before and after stayed away at the same time, each for
    reasons of its own; or had a quiet night together, by how much their nights differ as a whole; or all
    stayed for a reason they share: a storm, by which neighbouring boxes fall silent as well, or something at
    this box. A bird that was away in the night before, or came back later than the others, tells less. Birds
    that left and others that came tell nothing.

    Before the first read and behind the last, birds may not have come yet, or have left, or the logger was
    not there: how common that is, the other boxes tell.
    """
    one, log = known[which], logs[which]
    habits = one.habits
    low, high = habits.share(np.array([silence.start, silence.end])).tolist()
    mass = high - low
    none = -np.inf, 0.0
    if mass < beliefs.night_part or (silence.opens and silence.closes) or not len(habits.tags):
        return none
    nights = max(1, int(np.ceil(mass - beliefs.night_part)))
    before, after = _rates(habits, silence, beliefs)
    # a stray read or two on the first day are no habit: nothing is known of what lies beyond
    opens = silence.opens or (not before.any() and silence.start - log.start < DAY_MS)
    closes = silence.closes or (not after.any() and log.end - silence.end < DAY_MS)
    silence = replace(silence, opens=opens and not closes, closes=closes and not opens)
    rate = after if silence.opens else before if silence.closes else np.minimum(before, after)
    told = rate > 0
    if not told.any():
        return none
    # what of a night is silent goes by hours; beyond the first night, staying away lasts
    first = min(mass, 1.0)
    by_chance = none_in(rate * first, one.spread)
    later = beliefs.stays + (1 - beliefs.stays) * none_in(rate, one.spread)
    # an absence that is this silence must not speak against itself
    n_told = float(told.sum())
    away = np.maximum(one.away - one.worth_of_one / n_told**2, one.away / 2)
    alone = away + (1 - away) * by_chance
    gone = _away_beside(log, habits, silence)
    chance = np.where(gone, later, alone) * later ** (nights - 1)
    total = float(rate[told].sum())
    quiet = float(none_in(np.array(total * first), np.array(one.spread_all)))
    together = quiet * max(beliefs.still_nobody, quiet) ** (nights - 1)
    silent, asked = _neighbours(logs, known, which, silence, beliefs)
    heard = asked - silent
    heeded = (beliefs.in_storm / beliefs.anyhow) ** silent * (
        (1 - beliefs.in_storm) / (1 - beliefs.anyhow)
    ) ** heard
    storm = beliefs.storm
    if not asked and one.silences > beliefs.often:
        # a logger that fails again and again is rarer than a box at which weather does so
        storm = max(storm, one.silences / len(habits.whole))
    shared = (storm * heeded + beliefs.nobody) * beliefs.still_nobody ** (nights - 1)
    awake = float(np.prod(chance[told])) + together + shared
    if silence.opens or silence.closes:
        # birds may just have come late, or left early, on one day
        at_once = _at_once(one, silence, rate, beliefs) if mass >= 1 else 1.0
        awake += _leaving(known, which, at_once, beliefs)
    dead = beliefs.dead * beliefs.lasts ** (nights - 1)
    if one_dead:
        dead = beliefs.both_dead / (1 - beliefs.both_dead)
    return float(np.log(dead) - np.log(min(awake, 1.0))), total


def _leaving(known: Sequence[BoxHabits], which: int, at_once: float, beliefs: HealthBeliefs) -> float:
    """Chance for a night that a box ceases to be used or looked after, by how the other boxes ended."""
    others = [one for k, one in enumerate(known) if k != which]
    left = beliefs.leaves * beliefs.leaves_worth * at_once + sum(one.ends for one in others)
    nights = beliefs.leaves_worth + sum(len(one.habits.whole) for one in others)
    return left / nights


def _at_once(known: BoxHabits, silence: Silence, rate: Floats, beliefs: HealthBeliefs) -> float:
    """Chance that birds that leave do so all in one night, and as early in it as they were last heard.

    For a silence that opens a log: that they begin so, as late in the night.
    """
    edge = silence.end if silence.opens else silence.start
    passed = float(np.mod(known.habits.share(np.array([edge])), 1)[0])
    missing = float(rate.sum()) * (passed if silence.opens else 1 - passed)
    early = float(none_in(np.array(missing), np.array(known.spread_all)))
    birds = int((rate > 0).sum())
    # a pair comes and goes as one
    return beliefs.together ** max(birds - 2, 0) * max(early, beliefs.mid_night)


def _rates(habits: Habits, silence: Silence, beliefs: HealthBeliefs) -> tuple[Floats, Floats]:
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
        before, after = _rates(one.habits, silence, beliefs)
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

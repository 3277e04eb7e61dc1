"""Whether a box was empty, or its logger dead, while neither antenna heard anything."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from audit.models.box_habits import box_habits
from audit.models.box_neighbours import with_neighbours
from audit.models.night_habits import none_in

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.models.box_habits import BoxHabits, BoxSilence
    from audit.models.box_log import BoxLog
    from audit.models.health_beliefs import HealthBeliefs
    from audit.models.silence import Silence

    Floats = NDArray[np.float64]

__all__ = ["Learnt", "learnt_habits", "odds_of_dead"]

#: Turns after which what silences were, and how often birds stay away, had settled in logs looked at.
_TURNS = 3


@dataclass(frozen=True, slots=True)
class _Usual:
    """What is usual in all boxes: absences, nights asked, ends and nights of boxes, share of absences."""

    missed: float
    asked: float
    ends: float
    nights: float
    away: float


@dataclass(frozen=True, slots=True)
class Learnt:
    """Habits of boxes that are looked at together.

    Attributes
    ----------
    boxes : list of BoxHabits
    usual : _Usual
        What is usual in all of them.
    """

    boxes: list[BoxHabits]
    usual: _Usual


def learnt_habits(logs: Sequence[BoxLog], beliefs: HealthBeliefs) -> Learnt:
    """Learn the habits of all boxes, and what their silences were.

    Notes
    -----
    How often a bird stays away tells what a silence was, and what it was, how often the bird stays away: so
    they are asked in turn. No silence speaks for or against itself.
    """
    known = with_neighbours(logs, box_habits(logs, beliefs), beliefs)
    away = beliefs.away
    for _ in range(_TURNS):
        usual = _usual(known, away, beliefs)
        away = usual.away
        known = [
            replace(
                one,
                silent=tuple(_weighed(one, silent, usual, beliefs) for silent in one.silent),
            )
            for one in known
        ]
    return Learnt(known, _usual(known, beliefs.away, beliefs))


def _missed(one: BoxHabits, away: float) -> Floats:
    """Absences of each bird while others of its box were heard; what is likely by chance is hardly one."""
    found: Floats = one.begun * away / (away + (1 - away) * one.by_chance)
    return found


def _usual(known: Sequence[BoxHabits], away: float, beliefs: HealthBeliefs) -> _Usual:
    missed = sum(
        float(_missed(one, away).sum()) + sum(float(q.away.sum()) for q in one.silent) for one in known
    )
    asked = sum(float(one.asked.sum()) for one in known)
    ends = sum(1 - q.dead for one in known for q in one.silent if q.silence.opens or q.silence.closes)
    nights = float(sum(len(one.habits.whole) for one in known))
    now = (missed + 0.5) / (asked + 0.5 / beliefs.away)
    return _Usual(missed, asked, ends, nights, now)


def odds_of_dead(
    known: Learnt,
    which: int,
    silence: Silence,
    beliefs: HealthBeliefs,
    *,
    one_dead: bool = False,
) -> tuple[float, float]:
    """Weigh a silence of both antennas by the birds that were heard night after night around it.

    Parameters
    ----------
    known : Learnt
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
    box = known.boxes[which]
    for one in box.silent:
        if (one.silence.start, one.silence.end) == (silence.start, silence.end):
            dead, awake, _ = _chances(box, one, known.usual, beliefs)
            if one_dead:
                dead = beliefs.both_dead / (1 - beliefs.both_dead)
            return float(np.log(dead) - np.log(awake)) if awake else -np.inf, float(one.rate.sum())
    return -np.inf, 0.0


def _weighed(one: BoxHabits, silent: BoxSilence, usual: _Usual, beliefs: HealthBeliefs) -> BoxSilence:
    dead, awake, away = _chances(one, silent, usual, beliefs)
    if not awake:
        return replace(silent, dead=0.0, away=np.zeros(len(silent.rate)))
    return replace(silent, dead=dead / (dead + awake), away=away / (dead + awake))


def _chances(
    one: BoxHabits, silent: BoxSilence, usual: _Usual, beliefs: HealthBeliefs
) -> tuple[float, float, Floats]:
    """Chance that the logger was dead, that it was awake (0 where nothing tells), and absences by bird."""
    silence, rate = silent.silence, silent.rate
    told = rate > 0
    nothing = 1.0, 0.0, np.zeros(len(rate))
    if not told.any() or (silence.opens and silence.closes):
        return nothing
    nights = max(1, int(np.ceil(silent.mass - beliefs.night_part)))
    # what of a night is silent goes by hours; beyond the first night, staying away lasts
    first = min(silent.mass, 1.0)
    away = _away(one, silent, usual, beliefs)
    absent, missed = _each(silent, first, nights, away, one.spread, beliefs)
    each = float(np.prod(absent[told] + missed[told]))
    total = float(rate[told].sum())
    together = float(none_in(np.array(total * silent.mass), np.array(one.spread_all)))
    silent_too, asked = silent.neighbours
    heeded = (beliefs.in_storm / beliefs.anyhow) ** silent_too * (
        (1 - beliefs.in_storm) / (1 - beliefs.anyhow)
    ) ** (asked - silent_too)
    storm = beliefs.storm
    others = sum(
        1 - q.dead for q in one.silent if q is not silent and not (q.silence.opens or q.silence.closes)
    )
    if not asked and others + 1 > beliefs.often:
        # a logger that fails again and again is rarer than a box at which weather does so
        storm = max(storm, (others + 1) / len(one.habits.whole))
    shared = (storm * heeded + beliefs.nobody) * beliefs.still_nobody ** (nights - 1)
    awake = each + together + shared
    if silence.opens or silence.closes:
        # birds may just have come late, or left early, on one day
        at_once = _at_once(one, silence, rate, beliefs) if silent.mass >= 1 else 1.0
        awake += _leaving(one, usual, at_once, beliefs)
    share = np.where(told & ~silent.gone, absent / np.maximum(absent + missed, 1e-300), 0.0)
    return beliefs.dead * beliefs.lasts ** (nights - 1), min(awake, 1.0), each * share


def _each(
    silent: BoxSilence,
    first: float,
    nights: int,
    away: Floats,
    spread: Floats,
    beliefs: HealthBeliefs,
) -> tuple[Floats, Floats]:
    """By bird, chance that it went away and stayed so to the end, and that it was about and not heard.

    It may have been missed by chance in some nights before it went away.
    """
    # whichever of the two is likelier: nights that differ, or pauses that are as long
    now = np.maximum(none_in(silent.rate * first, spread), silent.by_pause ** (1 / nights))
    a_night = np.maximum(none_in(silent.rate, spread), silent.by_pause ** (1 / nights))
    # a bird that was away in the night before may stay so
    start = np.where(silent.gone, beliefs.stays, away)
    absent = start * beliefs.stays ** (nights - 1)
    missed = (1 - start) * now
    for left in range(nights - 2, -1, -1):
        absent = absent + missed * away * beliefs.stays**left
        missed = missed * (1 - away) * a_night
    return absent, missed


def _away(one: BoxHabits, silent: BoxSilence, usual: _Usual, beliefs: HealthBeliefs) -> Floats:
    """Share of nights after which each bird stays away, this silence left out: drawn towards that of all."""
    own = np.sum([q.away for q in one.silent if q is not silent], axis=0) if len(one.silent) > 1 else 0.0
    all_ = usual.missed - float(silent.away.sum()) + 0.5
    shared = max(all_, 0.5) / (usual.asked + 0.5 / beliefs.away)
    # however faithful all birds were so far, this one may go away
    drawn = beliefs.worth_habits * shared + beliefs.away_yet
    found: Floats = (_missed(one, shared) + own + drawn) / (one.asked + beliefs.worth_habits)
    return np.minimum(found, 1.0)


def _leaving(one: BoxHabits, usual: _Usual, at_once: float, beliefs: HealthBeliefs) -> float:
    """Chance for a night that a box ceases to be used or looked after, by how the other boxes ended."""
    own = sum(1 - q.dead for q in one.silent if q.silence.opens or q.silence.closes)
    left = beliefs.leaves * beliefs.leaves_worth * at_once + usual.ends - own
    return left / (beliefs.leaves_worth + usual.nights - len(one.habits.whole))


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

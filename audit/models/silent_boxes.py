"""Whether a box was empty, or its logger dead, while neither antenna heard anything."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from audit.models.birds_elsewhere import with_elsewhere
from audit.models.box_habits import box_habits
from audit.models.box_neighbours import with_neighbours
from audit.models.night_habits import none_in
from audit.models.silence_edges import edges_at_rest
from audit.models.silent_birds import Usual, absences_of, silent_birds

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.models.box_habits import BoxHabits, BoxSilence
    from audit.models.box_log import BoxLog
    from audit.models.health_beliefs import HealthBeliefs
    from audit.models.silence import Silence

    Flags = NDArray[np.bool_]
    Floats = NDArray[np.float64]

__all__ = ["Learnt", "learnt_habits", "odds_of_dead"]

#: Turns after which what silences were, and how often birds stay away, had settled in logs looked at.
_TURNS = 3


@dataclass(frozen=True, slots=True)
class Learnt:
    """Habits of boxes that are looked at together.

    Attributes
    ----------
    boxes : list of BoxHabits
    usual : Usual
        What is usual in all of them.
    """

    boxes: list[BoxHabits]
    usual: Usual


def learnt_habits(logs: Sequence[BoxLog], beliefs: HealthBeliefs) -> Learnt:
    """Learn the habits of all boxes, and what their silences were.

    Notes
    -----
    How often a bird stays away tells what a silence was, and what it was, how often the bird stays away: so
    they are asked in turn. No silence speaks for or against itself.
    """
    known = with_neighbours(logs, box_habits(logs, beliefs), beliefs)
    known = with_elsewhere(logs, known, beliefs)
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


def _usual(known: Sequence[BoxHabits], away: float, beliefs: HealthBeliefs) -> Usual:
    missed = sum(
        float(absences_of(one, away).sum()) + sum(float(q.away.sum()) for q in one.silent) for one in known
    )
    asked = sum(float(one.asked.sum()) for one in known)
    ends = sum(1 - q.dead for one in known for q in one.silent if q.silence.opens or q.silence.closes)
    dead = sum(q.dead for one in known for q in one.silent if not (q.silence.opens or q.silence.closes))
    nights = float(sum(len(one.habits.whole) for one in known))
    now = (missed + 0.5) / (asked + 0.5 / beliefs.away)
    return Usual(missed, asked, ends, dead, nights, now)


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


def _weighed(one: BoxHabits, silent: BoxSilence, usual: Usual, beliefs: HealthBeliefs) -> BoxSilence:
    dead, awake, away = _chances(one, silent, usual, beliefs)
    if not awake:
        return replace(silent, dead=0.0, away=np.zeros(len(silent.rate)))
    return replace(silent, dead=dead / (dead + awake), away=away / (dead + awake))


def _chances(
    one: BoxHabits, silent: BoxSilence, usual: Usual, beliefs: HealthBeliefs
) -> tuple[float, float, Floats]:
    """Chance that the logger was dead, that it was awake (0 where nothing tells), and absences by bird."""
    silence, rate = silent.silence, silent.rate
    told = rate > 0
    nothing = 1.0, 0.0, np.zeros(len(rate))
    if not told.any() or (silence.opens and silence.closes):
        return nothing
    nights = max(1, int(np.ceil(silent.mass - beliefs.night_part)))
    birds = silent_birds(one, silent, usual, beliefs)
    absent = np.minimum(birds.absent * silent.elsewhere, 1 - birds.missed)
    all_missed = float(np.prod(birds.missed[told]))
    each = float(np.prod(absent[told] + birds.missed[told]))
    total = float(rate[told].sum())
    together = float(none_in(np.array(total * silent.mass), np.array(one.spread_all)))
    # a silence may begin with any bout of a night, so there are as many that last so long by chance
    by_chance = max(all_missed, together) * max(total, 1.0)
    awake = each - all_missed + by_chance
    shared = _shared(one, silent, nights, beliefs)
    if silence.opens or silence.closes:
        # birds may just have come late, or left early, on one day
        there = told & (birds.missed < beliefs.there)
        at_once = _at_once(one, silent, there, beliefs) if silent.mass >= 1 else 1.0
        awake += shared + _leaving(one, usual, at_once, beliefs)
        if silence.closes:
            # of a brood that left in the last nights the others, and the parents, leave as well
            awake += float(birds.gone[told].mean()) / beliefs.around * at_once
    else:
        # a bird that goes away by itself does so at any hour
        awake += shared * edges_at_rest(one.habits, silence, total, beliefs)
    share = absent / np.maximum(absent + birds.missed, 1e-300)
    share = np.where(told & (birds.gone <= 0.5), share, 0.0)  # noqa: PLR2004 - rather here than gone
    dead = _dying(silent, usual, beliefs) * beliefs.lasts ** max(silent.mass - 1, 0.0)
    return dead, min(awake, 1.0), each * share


def _shared(one: BoxHabits, silent: BoxSilence, nights: int, beliefs: HealthBeliefs) -> float:
    """Chance that all birds stayed away for a reason they share: a storm, or something at this box."""
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
    return (storm * heeded + beliefs.nobody) * beliefs.still_nobody ** (nights - 1)


def _dying(silent: BoxSilence, usual: Usual, beliefs: HealthBeliefs) -> float:
    """Chance for a night that a logger falls silent: where others of the log did, these fail more often."""
    ends = silent.silence.opens or silent.silence.closes
    others = usual.dead - (0.0 if ends else silent.dead)
    found = (beliefs.dead * beliefs.dead_worth + others) / (beliefs.dead_worth + usual.nights)
    return float(np.clip(found, beliefs.dead, beliefs.dead_most))


def _leaving(one: BoxHabits, usual: Usual, at_once: float, beliefs: HealthBeliefs) -> float:
    """Chance for a night that a box ceases to be used or looked after, by how the other boxes ended."""
    own = sum(1 - q.dead for q in one.silent if q.silence.opens or q.silence.closes)
    left = beliefs.leaves * beliefs.leaves_worth * at_once + usual.ends - own
    return left / (beliefs.leaves_worth + usual.nights - len(one.habits.whole))


def _at_once(known: BoxHabits, silent: BoxSilence, there: Flags, beliefs: HealthBeliefs) -> float:
    """Chance that birds that leave do so all in one night, and as early in it as they were last heard.

    For a silence that opens a log: that they begin so, as late in the night. Of birds that are not missed,
    since they came seldom or had left before, it is not asked.
    """
    silence, rate = silent.silence, silent.rate
    edge = silence.end if silence.opens else silence.start
    passed = float(np.mod(known.habits.share(np.array([edge])), 1)[0])
    missing = float(rate.sum()) * (passed if silence.opens else 1 - passed)
    early = float(none_in(np.array(missing), np.array(known.spread_all)))
    birds = int(there.sum())
    # a pair comes and goes as one
    return beliefs.together ** max(birds - 2, 0) * max(early, beliefs.mid_night)

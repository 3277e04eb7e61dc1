"""Whether an antenna was deaf while it was silent, by what the other heard meanwhile."""

from __future__ import annotations

from math import lgamma
from typing import TYPE_CHECKING

import numpy as np

from audit.models.box_log import DAY_MS, night_of, of_tag
from audit.models.opening_silences import came_as_usual, never_worked

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.box_log import BoxLog, Heard
    from audit.models.health_beliefs import HealthBeliefs
    from audit.models.silence import Silence

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["evidence_of_other", "most_told"]

#: Parts of a day.
_QUARTERS = 4


def most_told(bouts: Ints, beliefs: HealthBeliefs) -> Floats:
    """Bound what so many bouts of the other antenna can tell, as a natural logarithm.

    Parameters
    ----------
    bouts : numpy.ndarray of int, shape (k,)
        Number in each silence.
    beliefs : HealthBeliefs

    Returns
    -------
    numpy.ndarray of float
        As if each were another bird's and heard as well as any: a second one of the same bird and night tells
        less than the first.
    """
    found: Floats = beliefs.sure - beliefs.sure_start - bouts * np.log(1 - beliefs.at_most)
    return found


def evidence_of_other(
    log: BoxLog,
    side: int,
    silence: Silence,
    efficiency: float,
    skip: Flags,
    within: Ints,
    beliefs: HealthBeliefs,
) -> tuple[float, Ints, Floats]:
    """Weigh what only the other antenna heard in a silence.

    Parameters
    ----------
    log : BoxLog
    side : int
        The silent antenna.
    silence : Silence
    efficiency : float
        Share of the groups heard by the other antenna that this one hears too, over all birds of the box.
    skip : numpy.ndarray of bool, shape (k,)
        Groups that tell nothing of how well this antenna hears, since it was deaf.
    within : numpy.ndarray of int64, shape (w,)
        Where the bouts stand that the other heard and that begin in the silence.
    beliefs : HealthBeliefs

    Returns
    -------
    float
        Natural logarithm of how many times likelier the silence is if the antenna was deaf.
    numpy.ndarray of int64, shape (j,)
        Moments of the groups that it missed, in order.
    numpy.ndarray of float, shape (j,)
        Chance that it would have missed each, had it been awake.

    Notes
    -----
    What a bird does in a night hangs together, so the bouts of a bird in a quarter of a day count by a
    beta-binomial distribution about what it does in that quarter before and after, the lower of the two:
    of all its bouts that share which this antenna heard, since an awake one would also have heard some that
    the other missed. By day a bird may come to one antenna for air and by night cross both. A bird not heard
    at both antennas near the silence tells nothing. What one night can tell is bounded.
    """
    heard, within = log.bouts, np.sort(within)
    inside = within[(heard.begin[within] > silence.start) & (heard.stop[within] < silence.end)]
    none = np.zeros(0, dtype=np.int64), np.zeros(0)
    if len(inside) == 0:
        return 0.0, *none
    if silence.opens and silence.closes:
        told = never_worked(log, inside, beliefs)
        return told, heard.begin[inside], np.full(len(inside), 1 - efficiency)
    chance = np.full(len(inside), np.nan)
    odd = np.zeros(len(inside))
    quarter = _quarter(heard.begin[inside])
    for tag in np.unique(heard.tag[inside]).tolist():
        mine = heard.tag[inside] == tag
        changed = _chance_of_change(log, side, silence, tag, efficiency, skip, beliefs)
        if np.isnan(changed):
            continue
        odd[mine] = changed
        for part in np.unique(quarter[mine]).tolist():
            chance[mine & (quarter == part)] = _usual(
                heard, side, silence, tag, efficiency, (skip, part), beliefs
            )
    known = ~np.isnan(chance)
    inside, chance, quarter, odd = inside[known], chance[known], quarter[known], odd[known]
    if len(inside) == 0:
        return 0.0, *none
    night = night_of(heard.begin[inside])
    tags = heard.tag[inside].astype(np.int64)
    many = int(tags.max()) + 1
    # one number for night, bird and quarter: such are sorted much faster than rows
    key = (night * many + tags) * _QUARTERS + quarter
    units, first, count = np.unique(key, return_index=True, return_counts=True)
    unit_night, unit_tag = np.divmod(units // _QUARTERS, many)
    of_unit, odd = chance[first], odd[first]
    a, b = beliefs.unlike * of_unit, beliefs.unlike * (1 - of_unit)
    # of a beta distribution: the chance to miss all, were they drawn with one chance
    log_missed = _log_gamma(b + count) - _log_gamma(b) - _log_gamma(a + b + count) + _log_gamma(a + b)
    # a few bouts may be one stay on one side of the entrance
    odd_each = beliefs.odd_bird + beliefs.one_stay * np.exp(-count)
    by_unit = -np.log(odd_each + (1 - odd_each) * np.exp(log_missed))
    _, of_night = np.unique(unit_night, return_inverse=True)
    by_nights = float(np.minimum(np.bincount(of_night, weights=by_unit), beliefs.night).sum())
    # a bird may have changed its ways for good, where little is heard of it on the other side of the silence
    _, one, of_bird = np.unique(unit_tag, return_index=True, return_inverse=True)
    by_bird = np.bincount(of_bird, weights=by_unit)
    told = float(-np.log(odd[one] + (1 - odd[one]) * np.exp(-by_bird)).sum())
    # that an antenna was not ready is commoner, even if it heard a bird or two as it was set up
    opens = silence.start - log.start < DAY_MS
    told = min(told, by_nights) + (beliefs.sure - beliefs.sure_start if opens else 0.0)
    order = np.argsort(heard.begin[inside], kind="stable")
    return told, heard.begin[inside][order], 1 - chance[order]


def _quarter(at: Ints) -> Ints:
    """Tell the quarter of its day of each moment: from midnight, six, noon and eighteen hours on."""
    found: Ints = at % DAY_MS // (DAY_MS // _QUARTERS)
    return found


def _chance_of_change(
    log: BoxLog, side: int, silence: Silence, tag: int, efficiency: float, skip: Flags, beliefs: HealthBeliefs
) -> float:
    """Chance that a bird began, or ceased, to cross both antennas just as a silence of one ended, or began.

    By what both heard of it on either side: a bird that only looks, or rests, is now and then heard by both,
    too. Nan where the bird tells nothing.
    """
    heard = log.bouts
    trials, hits = _beside(heard, side, silence, tag, skip, beliefs)
    if not hits.any():
        return float("nan")
    if trials[0] < beliefs.near_least and not came_as_usual(
        log, side, silence, tag, beliefs, knew=hits[0] > 0
    ):
        return float("nan")
    rates = (hits + beliefs.worth * efficiency) / (trials + beliefs.worth)
    rates = np.minimum(rates, beliefs.at_most)
    found = 0.0
    for k, before in ((0, beliefs.odd_start), (1, beliefs.odd_end)):
        rate = rates[1 - k] if hits[1 - k] else rates[k]
        missed = trials[k] - hits[k]
        odd = before * beliefs.not_yet ** hits[k] * (1 - beliefs.not_yet) ** missed
        usual = (1 - before) * rate ** hits[k] * (1 - rate) ** missed
        found = max(found, float(odd / (odd + usual)))
    return found


def _beside(
    heard: Heard, side: int, silence: Silence, tag: int, skip: Flags, beliefs: HealthBeliefs
) -> tuple[Floats, Floats]:
    """Bouts of a bird at the other antenna shortly before and after a silence, and those heard at both."""
    mine = of_tag(heard, tag)
    trial = heard.by[1 - side][mine] & ~skip[mine]
    hit = heard.by[side][mine]
    before = np.flatnonzero(trial & (heard.stop[mine] <= silence.start))[-beliefs.near :]
    after = np.flatnonzero(trial & (heard.begin[mine] >= silence.end))[: beliefs.near]
    return np.array([len(before), len(after)], dtype=np.float64), np.array(
        [hit[before].sum(), hit[after].sum()], dtype=np.float64
    )


def _usual(
    heard: Heard,
    side: int,
    silence: Silence,
    tag: int,
    efficiency: float,
    kept: tuple[Flags, int],
    beliefs: HealthBeliefs,
) -> float:
    """How often it hears a bird that either hears, before and after, the lower of the two.

    Where too few are known of a quarter of the day, those of the whole day tell.
    """
    skip, part_of_day = kept
    mine = of_tag(heard, tag)
    trial = ~skip[mine]
    hit = heard.by[side][mine]
    quarter = _quarter(heard.begin[mine]) == part_of_day
    found = [beliefs.at_most]
    for first, beside in (
        (False, heard.stop[mine] <= silence.start),
        (True, heard.begin[mine] >= silence.end),
    ):
        for at_all in (trial & beside & quarter, trial & beside):
            part = np.flatnonzero(at_all)
            part = part[: beliefs.near] if first else part[-beliefs.near :]
            if len(part) >= beliefs.near_least:
                break
        if len(part):
            found.append((hit[part].sum() + beliefs.worth * efficiency) / (len(part) + beliefs.worth))
    return float(min(found))


def _log_gamma(values: Floats) -> Floats:
    """Natural logarithm of the gamma function; the library that has it for arrays takes longer to load."""
    return np.array([lgamma(value) for value in values.tolist()])

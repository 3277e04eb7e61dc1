"""Whether an antenna was deaf while it was silent, by what the other heard meanwhile."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.special import betaln

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
    by day a bird may come to one antenna for air and by night cross both. A bird not heard at both antennas
    near the silence tells nothing. What one night can tell is bounded.
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
    quarter = _quarter(heard.begin[inside])
    for tag in np.unique(heard.tag[inside]).tolist():
        if silence.opens and not came_as_usual(log, side, silence, tag, beliefs):
            continue
        for part in np.unique(quarter[heard.tag[inside] == tag]).tolist():
            usual = _usual(heard, side, silence, tag, efficiency, (skip, part), beliefs)
            chance[(heard.tag[inside] == tag) & (quarter == part)] = usual
    known = ~np.isnan(chance)
    inside, chance, quarter = inside[known], chance[known], quarter[known]
    if len(inside) == 0:
        return 0.0, *none
    night = night_of(heard.begin[inside])
    tags = heard.tag[inside].astype(np.int64)
    many = int(tags.max()) + 1
    # one number for night, bird and quarter: such are sorted much faster than rows
    key = (night * many + tags) * _QUARTERS + quarter
    units, place, count = np.unique(key, return_inverse=True, return_counts=True)
    unit_night, unit_tag = np.divmod(units // _QUARTERS, many)
    of_unit = np.zeros(len(units))
    of_unit[place] = chance
    a, b = beliefs.unlike * of_unit, beliefs.unlike * (1 - of_unit)
    log_missed = betaln(a, b + count) - betaln(a, b)
    if silence.opens or silence.closes:
        # nothing is heard of the bird on the other side of it, so its habits may have changed for good
        odd = beliefs.odd_start if silence.opens else beliefs.odd_end
        _, of_bird = np.unique(unit_tag, return_inverse=True)
        by_bird = np.bincount(of_bird, weights=log_missed)
        told = float(-np.log(odd + (1 - odd) * np.exp(by_bird)).sum())
        told += beliefs.sure - beliefs.sure_start if silence.opens else 0.0
    else:
        # a few bouts may be one stay on one side of the entrance
        odd_each = beliefs.odd_bird + beliefs.one_stay * np.exp(-count)
        by_unit = -np.log(odd_each + (1 - odd_each) * np.exp(log_missed))
        _, of_night = np.unique(unit_night, return_inverse=True)
        told = float(np.minimum(np.bincount(of_night, weights=by_unit), beliefs.night).sum())
    order = np.argsort(heard.begin[inside], kind="stable")
    return told, heard.begin[inside][order], 1 - chance[order]


def _quarter(at: Ints) -> Ints:
    """Tell the quarter of its day of each moment: from midnight, six, noon and eighteen hours on."""
    found: Ints = at % DAY_MS // (DAY_MS // _QUARTERS)
    return found


def _usual(
    heard: Heard,
    side: int,
    silence: Silence,
    tag: int,
    efficiency: float,
    kept: tuple[Flags, int],
    beliefs: HealthBeliefs,
) -> float:
    """How often it hears a bird that the other hears, before and after; nan where not known.

    Where too few are known of a quarter of the day, those of the whole day tell.
    """
    skip, part_of_day = kept
    mine = of_tag(heard, tag)
    trial = heard.by[1 - side][mine] & ~skip[mine]
    hit = heard.by[side][mine]
    quarter = _quarter(heard.begin[mine]) == part_of_day
    sides = [heard.stop[mine] <= silence.start] * (not silence.opens)
    sides += [heard.begin[mine] >= silence.end] * (not silence.closes)
    found = []
    for k, beside in enumerate(sides):
        first = k == 1 or silence.opens
        for at_all in (trial & beside & quarter, trial & beside):
            part = np.flatnonzero(at_all)
            part = part[: beliefs.near] if first else part[-beliefs.near :]
            if len(part) >= beliefs.near_least:
                break
        if len(part) < beliefs.near_least or not hit[part].any():
            return float("nan")
        found.append((hit[part].sum() + beliefs.worth * efficiency) / (len(part) + beliefs.worth))
    return float(min(*found, beliefs.at_most))

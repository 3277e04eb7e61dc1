"""Whether an antenna was deaf while it was silent, by what the other heard meanwhile."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import betaln

from audit.models.box_log import DAY_MS, night_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.box_log import Heard
    from audit.models.health_beliefs import HealthBeliefs

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["Silence", "evidence_of_other", "silences", "when_deaf"]


@dataclass(frozen=True, slots=True)
class Silence:
    """A time between two reads of an antenna, or before its first or after its last.

    Attributes
    ----------
    start, end : int
        Milliseconds; an antenna that was deaf in it was so from some moment after the start to some moment
        before the end.
    opens, closes : bool
        Whether the log begins, or ends, with it.
    """

    start: int
    end: int
    opens: bool = False
    closes: bool = False


def silences(times: Ints, start: int, end: int, least: float) -> list[Silence]:
    """Find the long silences.

    Parameters
    ----------
    times : numpy.ndarray of int64, shape (n,)
        Reads in order, in milliseconds.
    start, end : int
        Of the heard.
    least : float
        Shorter ones are none, in milliseconds.
    """
    edges = np.concatenate([[start], times, [end]])
    where = np.flatnonzero(np.diff(edges) > least)
    return [Silence(int(edges[i]), int(edges[i + 1]), i == 0, i == len(times)) for i in where.tolist()]


def evidence_of_other(
    heard: Heard, side: int, silence: Silence, efficiency: float, skip: Flags, beliefs: HealthBeliefs
) -> tuple[float, Ints, Floats]:
    """Weigh what only the other antenna heard in a silence.

    Parameters
    ----------
    heard : Heard
        Bouts of the birds of a box.
    side : int
        The silent antenna.
    silence : Silence
    efficiency : float
        Share of the groups heard by the other antenna that this one hears too, over all birds of the box.
    skip : numpy.ndarray of bool, shape (k,)
        Groups that tell nothing of how well this antenna hears, since it was deaf.
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
    other = heard.by[1 - side]
    inside = np.flatnonzero(other & (heard.begin > silence.start) & (heard.stop < silence.end))
    none = np.zeros(0, dtype=np.int64), np.zeros(0)
    # before an antenna ever heard one, birds may not have come so far: a chick, a pair that looks in
    if len(inside) == 0 or silence.opens:
        return 0.0, *none
    chance = np.full(len(inside), np.nan)
    quarter = _quarter(heard.begin)
    for tag in np.unique(heard.tag[inside]).tolist():
        for part in np.unique(quarter[inside[heard.tag[inside] == tag]]).tolist():
            usual = _usual(heard, side, silence, tag, efficiency, skip | (quarter != part), beliefs)
            chance[(heard.tag[inside] == tag) & (quarter[inside] == part)] = usual
    inside, chance = inside[~np.isnan(chance)], chance[~np.isnan(chance)]
    if len(inside) == 0:
        return 0.0, *none
    night = night_of(heard.begin[inside])
    key = np.stack([night, heard.tag[inside].astype(np.int64), quarter[inside]])
    units, place, count = np.unique(key, axis=1, return_inverse=True, return_counts=True)
    of_unit = np.zeros(units.shape[1])
    of_unit[place] = chance
    a, b = beliefs.unlike * of_unit, beliefs.unlike * (1 - of_unit)
    missed_all = np.exp(betaln(a, b + count) - betaln(a, b))
    told = -np.log(beliefs.odd_bird + (1 - beliefs.odd_bird) * missed_all)
    _, of_night = np.unique(units[0], return_inverse=True)
    by_night = np.minimum(np.bincount(of_night, weights=told), beliefs.night)
    order = np.argsort(heard.begin[inside], kind="stable")
    return float(by_night.sum()), heard.begin[inside][order], 1 - chance[order]


def _quarter(at: Ints) -> Ints:
    """Tell the quarter of its day of each moment: from midnight, six, noon and eighteen hours on."""
    found: Ints = at % DAY_MS // (DAY_MS // 4)
    return found


def _usual(
    heard: Heard,
    side: int,
    silence: Silence,
    tag: int,
    efficiency: float,
    skip: Flags,
    beliefs: HealthBeliefs,
) -> float:
    """How often it hears a bird that the other hears, before and after; nan where not known."""
    mine = slice(*np.searchsorted(heard.tag, [tag, tag + 1]).tolist())
    trial = heard.by[1 - side][mine] & ~skip[mine]
    hit = heard.by[side][mine]
    before = np.flatnonzero(trial & (heard.stop[mine] <= silence.start))[-beliefs.near :]
    after = np.flatnonzero(trial & (heard.begin[mine] >= silence.end))[: beliefs.near]
    found = []
    for part in (before,) if silence.closes else (before, after):
        if len(part) < beliefs.near_least or not hit[part].any():
            return float("nan")
        found.append((hit[part].sum() + beliefs.worth * efficiency) / (len(part) + beliefs.worth))
    return float(min(*found, beliefs.at_most))


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

"""How the birds of a box use to come: how often in a night, at what hours, in how many nights not at all."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.box_log import DAY_MS, HOUR_MS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.models.box_log import BoxLog
    from audit.models.health_beliefs import HealthBeliefs

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["Habits", "absences", "habits_of", "none_in", "pause_chance", "shared_spread", "spreads_of"]

_BINS = 48
_BIN_MS = DAY_MS // _BINS


def none_in(expected: Floats, spread: Floats) -> Floats:
    """Chance that a bird does not come at all.

    Parameters
    ----------
    expected : numpy.ndarray of float
        Bouts expected.
    spread : numpy.ndarray of float
        How much nights differ: the variance of their means over the square of the mean.

    Returns
    -------
    numpy.ndarray of float
        Of a negative binomial distribution.

    Examples
    --------
    >>> round(float(none_in(np.array(6.0), np.array(0.5))), 4)  # by hand: 4 ** -2
    0.0625
    """
    found: Floats = (1 + spread * expected) ** (-1 / spread)
    return found


@dataclass(frozen=True, slots=True)
class Habits:
    """Habits of the birds of one box.

    Attributes
    ----------
    cut : int
        Milliseconds after midnight at which a night is taken to end: the quietest hour.
    first : int
        Number of the first night.
    passed : numpy.ndarray of float, shape (49,)
        Share of a night's bouts up to each half hour after `cut`.
    tags : numpy.ndarray of int, shape (b,)
    bouts : numpy.ndarray of float, shape (b, n)
        Bouts of each bird in each night.
    whole : numpy.ndarray of bool, shape (n,)
        Nights that lie in the log and in no long silence.
    """

    cut: int
    first: int
    passed: Floats
    tags: Ints
    bouts: Floats
    whole: Flags

    def share(self, at: Ints) -> Floats:
        """Count moments in nights, so that a difference is what of a night's bouts lies between."""
        since = np.asarray(at, dtype=np.int64) - self.cut
        number = since // DAY_MS
        found: Floats = number + np.interp(
            (since - number * DAY_MS) / _BIN_MS, np.arange(_BINS + 1), self.passed
        )
        return found

    def night(self, at: Ints) -> Ints:
        """Column of `bouts` of each moment."""
        found: Ints = (np.asarray(at, dtype=np.int64) - self.cut) // DAY_MS - self.first
        return found


def habits_of(log: BoxLog, silences: Ints, beliefs: HealthBeliefs) -> Habits:
    """Lay out habits.

    Parameters
    ----------
    log : BoxLog
    silences : numpy.ndarray of int64, shape (k, 2)
        Long silences of both antennas.
    beliefs : HealthBeliefs
        Nights of which `hidden` lies in a silence of `night_part` and more tell nothing of habits: a shorter
        one is a quiet time of the birds.
    """
    begin = log.bouts.begin
    # to divide by a number is several times as fast as to ask for the rest
    hour = begin // HOUR_MS
    of_day = np.bincount(hour - hour // 24 * 24, minlength=24).astype(np.float64)
    near = sum(np.roll(of_day, k) for k in range(-2, 3))
    cut = int(np.argmin(near)) * HOUR_MS + HOUR_MS // 2
    since = begin - cut
    day = since // DAY_MS
    half_hours = np.bincount((since - day * DAY_MS) // _BIN_MS, minlength=_BINS).astype(np.float64)
    smooth = (np.roll(half_hours, 1) + half_hours + np.roll(half_hours, -1)) / 3 + 0.02 / _BINS
    passed = np.concatenate([[0.0], np.cumsum(smooth / smooth.sum())])
    first, last = ((np.array([log.start, log.end - 1]) - cut) // DAY_MS).tolist()
    # bouts lie by tag
    fresh = np.diff(log.bouts.tag, prepend=log.bouts.tag[:1] - 1) != 0
    tags, row = log.bouts.tag[fresh], np.cumsum(fresh) - 1
    n = last - first + 1
    night = np.clip(day - first, 0, n - 1)
    bouts = np.bincount(row * n + night, minlength=len(tags) * n).reshape(len(tags), n).astype(np.float64)
    made = Habits(cut, first, passed, tags.astype(np.int64), bouts, np.ones(n, dtype=np.bool_))
    hidden = np.zeros(n)
    outside = [[first * DAY_MS + cut, log.start], [log.end, (last + 1) * DAY_MS + cut]]
    lasts = np.diff(made.share(silences))[:, 0] if len(silences) else np.zeros(0)
    edges = np.concatenate([outside, silences[lasts >= beliefs.night_part]])
    for start, end in made.share(edges.astype(np.int64)).tolist():
        low, high = start - first, end - first
        for k in range(max(int(low), 0), min(int(np.ceil(high)), n)):
            hidden[k] += max(0.0, min(high, k + 1) - max(low, k))
    return Habits(cut, first, passed, made.tags, bouts, hidden < beliefs.hidden)


def shared_spread(habits: Sequence[Habits], beliefs: HealthBeliefs) -> float:
    """Learn how much the nights of a bird differ, as in `none_in`, from the birds of all boxes.

    Parameters
    ----------
    habits : sequence of Habits
        By box.
    beliefs : HealthBeliefs

    Notes
    -----
    Half the squared difference of two nights that follow each other is their variance, whatever the season
    does to the mean; less the mean, and over its square, it is the spread.
    """
    over, squares = 0.0, 0.0
    for one in habits:
        pairs = _pairs(one, beliefs.seldom)
        over, squares = over + float((pairs[0] / pairs[2]).sum()), squares + float(pairs[3].sum())
    drawn = (over + beliefs.worth * beliefs.spread) / (squares + beliefs.worth)
    return float(np.clip(drawn, beliefs.spread_least, beliefs.spread_most))


def _about(habits: Habits) -> tuple[Flags, Floats]:
    """Tell in which nights each bird was about, between its first and last one, and how many these are."""
    came = habits.bouts > 0
    since = np.maximum.accumulate(came, axis=1)
    until = np.maximum.accumulate(came[:, ::-1], axis=1)[:, ::-1]
    found: Flags = since & until & habits.whole
    return found, found.sum(axis=1).astype(np.float64)


def _pairs(habits: Habits, seldom: float) -> tuple[Floats, Floats, Floats, Floats]:
    """By bird: variance beyond chance, squared mean (sums over pairs of nights), mean of those, pairs."""
    about, n = _about(habits)
    # a night without a bird that comes often is an absence, without one that comes seldom a night like others
    rare = np.exp(-(habits.bouts * about).sum(axis=1) / np.maximum(n, 1)) >= seldom
    counts = (habits.bouts > 0) | (about & rare[:, None])
    here = counts[:, 1:] & counts[:, :-1] & habits.whole[1:] & habits.whole[:-1]
    mean = (habits.bouts[:, 1:] + habits.bouts[:, :-1]) / 2
    over = ((habits.bouts[:, 1:] - habits.bouts[:, :-1]) ** 2 / 2 - mean) * here
    squares = mean**2 * here
    pairs = here.sum(axis=1).astype(np.float64)
    typical = np.maximum(squares.sum(axis=1) / np.maximum(pairs, 1), 1.0)
    return over.sum(axis=1), squares.sum(axis=1), typical, pairs


def spreads_of(habits: Habits, shared: float, beliefs: HealthBeliefs) -> Floats:
    """Spread of each bird, drawn towards that of all."""
    over, squares, mean, _ = _pairs(habits, beliefs.seldom)
    drawn = (over + beliefs.worth_habits * mean * shared) / (squares + beliefs.worth_habits * mean)
    found: Floats = np.clip(drawn, beliefs.spread_least, beliefs.spread_most)
    return found


def absences(habits: Habits, spread: Floats) -> tuple[Floats, Floats, Floats]:
    """Count nights without each bird between its first and last one.

    Returns
    -------
    begun, asked, by_chance : numpy.ndarray of float, shape (b,)
        Nights with which a time without it begins, nights between, and the chance that a bird that is about
        does not come in one of them.
    """
    about, n = _about(habits)
    came = habits.bouts > 0
    mean = (habits.bouts * about).sum(axis=1) / np.maximum(n, 1)
    # one absence of several nights is one
    begun = about & ~came
    begun[:, 1:] &= ~(about & ~came)[:, :-1]
    # its first and last night it came by definition
    return begun.sum(axis=1).astype(np.float64), np.maximum(n - 2, 0), none_in(mean, spread)


def pause_chance(pauses: Floats, nights: float, length: float, longest: int) -> float:
    """Chance that a time of some length lies within one pause, as pauses usually are.

    Parameters
    ----------
    pauses : numpy.ndarray of float, shape (n,)
        In nights, in any order.
    nights : float
        Nights in which they were.
    length : float
        Nights.
    longest : int
        Beyond the longest pauses but so many, these are taken to be exponential.

    Returns
    -------
    float
        Share of all moments at which a time of that length could begin.

    Notes
    -----
    A pause of length g has room for g - m of the beginnings of a time of length m. Above a high bound u the
    excess of pauses is nearly exponential (the peaks over a threshold of extreme value theory, with shape 0):
    of mean e, so that k pauses beyond u have room for k e exp(-(m - u) / e).

    Examples
    --------
    >>> round(pause_chance(np.full(10, 0.1), 1.0, 0.05, 5), 2)  # by hand: 10 * 0.05
    0.5
    """
    if len(pauses) <= longest or nights <= 0:
        return 1.0
    bound, *most = np.sort(pauses)[-longest - 1 :].tolist()
    if length <= bound:
        return float(np.maximum(pauses - length, 0.0).sum() / nights)
    excess = max(float(np.mean(most)) - bound, 1e-9)
    return float(len(most) * excess * np.exp(-(length - bound) / excess) / nights)

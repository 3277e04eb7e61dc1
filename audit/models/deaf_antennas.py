"""Which silences of one antenna were deafness, by the beats of a marker and by what the other heard."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.box_log import DAY_MS, HOUR_MS
from audit.models.deaf_spells import evidence_of_other, most_told
from audit.models.silence import Silence
from audit.models.spell_edges import when_deaf

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from audit.models.box_log import BoxLog
    from audit.models.health_beliefs import HealthBeliefs
    from audit.models.marker_beats import Beat

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["beats_due", "deaf_between", "is_long"]


def deaf_between(
    log: BoxLog, side: int, slept: Ints, beats: list[Beat], skip: Flags, beliefs: HealthBeliefs
) -> tuple[list[tuple[int, int]], list[tuple[int, int]]]:
    """Find the spells in which one antenna was dead, and those in which nothing tells.

    Parameters
    ----------
    log : BoxLog
    side : int
        The antenna.
    slept : numpy.ndarray of int64, shape (k, 2)
        When the logger slept, in order, in milliseconds.
    beats : list of Beat
        Of the marker tags of this antenna.
    skip : numpy.ndarray of bool
        Bouts that tell nothing of how well it hears, since it was dead.
    beliefs : HealthBeliefs

    Returns
    -------
    dead, unknown : list of tuple of int
        Starts and ends, in milliseconds.
    """
    by_other = np.flatnonzero(log.bouts.by[1 - side])
    other = log.bouts.by[1 - side] & ~skip
    hits, trials = float((log.bouts.by[side] & other).sum()), float(other.sum())
    least = beliefs.silence_h * HOUR_MS
    if beats:
        least = min(least, 3 * min(beat.interval for beat in beats))
    dead, unknown = [], []
    by_other = by_other[np.argsort(log.bouts.begin[by_other], kind="stable")]
    others = log.bouts.begin[by_other]
    for silence, low, high in _worth_a_look(log, side, others, least, beliefs, each=bool(beats)):
        told, missed, chance = 0.0, np.zeros(0, dtype=np.int64), np.zeros(0)
        if low < high:
            within = by_other[low:high]
            # what was missed in this silence must not speak against the antenna that it is asked of
            fewer = trials - float((other & ~log.bouts.by[side])[within].sum())
            efficiency = (hits + beliefs.worth * beliefs.efficiency) / (fewer + beliefs.worth)
            told, missed, chance = evidence_of_other(log, side, silence, efficiency, skip, within, beliefs)
        moments, chances = [missed], [chance]
        for beat in beats:
            due = beats_due(beat, silence, slept, beliefs.sure)
            told += -np.log(1 - beat.heard) * len(due)
            moments.append(due)
            chances.append(np.full(len(due), 1 - beat.heard))
        if told >= _sure_of(silence, beats, beliefs):
            order = np.argsort(np.concatenate(moments), kind="stable")
            dead.append(when_deaf(silence, np.concatenate(moments)[order], np.concatenate(chances)[order]))
        elif is_long(silence, slept, beliefs):
            unknown.append((silence.start, silence.end))
    return dead, unknown


def _sure_of(silence: Silence, beats: list[Beat], beliefs: HealthBeliefs) -> float:
    """Evidence from which a silence was deafness, by how many silences there are that might be told so."""
    if beats:
        return float(beliefs.sure + np.log(max(len(beat.times) for beat in beats)))
    return float(beliefs.sure - _rarer(np.array(float(silence.end - silence.start)), beliefs))


def _rarer(lasts: Floats, beliefs: HealthBeliefs) -> Floats:
    """How much rarer silences of so many milliseconds must be than usual ones, as a natural logarithm.

    A log of some days has no room for many long ones, so fewer are told dead by chance.
    """
    found: Floats = np.where(
        lasts > DAY_MS, np.log(beliefs.silences_day * np.maximum(lasts / DAY_MS, 1)), 0.0
    )
    return found


def _worth_a_look(
    log: BoxLog, side: int, others: Ints, least: float, beliefs: HealthBeliefs, *, each: bool
) -> Iterator[tuple[Silence, int, int]]:
    """Silences with the range of the bouts of the other antenna, those left out of which nothing follows.

    Most are days in which nobody stirs, and a bird or two that were missed.
    """
    times = np.concatenate([[log.start], log.times[side], [log.end]])
    where = np.flatnonzero(np.diff(times) > least)
    start, end = times[where], times[where + 1]
    low, high = np.searchsorted(others, start), np.searchsorted(others, end)
    opens, closes = where == 0, where == len(times) - 2
    enough = beliefs.sure - _rarer((end - start).astype(np.float64), beliefs)
    tells = (high > low) & ((most_told(high - low, beliefs) >= enough) | (opens & closes))
    # when a logger was put up, or down, its own clock tells to an hour or two only
    each_one = each & ~((opens | closes) & (end - start < beliefs.silence_h * HOUR_MS))
    kept = np.flatnonzero(tells | (end - start > beliefs.long_h * HOUR_MS) | each_one)
    columns = (start, end, opens, closes, low, high)
    for a, b, first, last, i, j in zip(*(one[kept].tolist() for one in columns), strict=True):
        yield Silence(a, b, first, last), i, j


def beats_due(beat: Beat, silence: Silence, slept: Ints, sure: float) -> Ints:
    """Beats that should have been heard in a silence, asleep not counted; none of a marker that was lost."""
    k = int(np.searchsorted(beat.times, silence.start, side="right"))
    lost = beat.interval * (1 - sure / np.log(1 - beat.heard))
    none = np.zeros(0, dtype=np.int64)
    if k == 0 or silence.start - beat.times[k - 1] > lost:
        return none
    if not silence.closes and (k == len(beat.times) or beat.times[k] - silence.end > lost):
        return none
    since = int(beat.times[k - 1])
    first = np.ceil((silence.start - since) / beat.interval + 0.5)
    due = (since + np.arange(first, (silence.end - since) / beat.interval - 0.5) * beat.interval).astype(
        np.int64
    )
    if len(slept):
        asleep = np.maximum(np.searchsorted(slept[:, 0], due, side="right") - 1, 0)
        due = due[(due < slept[asleep, 0]) | (due >= slept[asleep, 1])]
    return due


def is_long(silence: Silence, slept: Ints, beliefs: HealthBeliefs) -> bool:
    """Whether a silence is too long to be said nothing of, asleep not counted."""
    lasts = silence.end - silence.start
    if lasts <= beliefs.long_h * HOUR_MS:
        return False
    away = np.minimum(slept[:, 1], silence.end) - np.maximum(slept[:, 0], silence.start)
    return bool(lasts - np.maximum(away, 0).sum() > beliefs.long_h * HOUR_MS)

"""A logger set to sleep: no read between the same two times of every day, with the edges of a clock."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.box_log import DAY_MS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.health_beliefs import HealthBeliefs
    from audit.models.marker_beats import Beat

    Ints = NDArray[np.int64]

__all__ = ["nightly_sleep", "sleep_beside_beats", "sleeps_between"]

_MINUTE_MS = 60_000
#: A clock is set to full quarters of an hour; an edge this near to one lies on it.
_QUARTER_MS = 15 * _MINUTE_MS
_SNAP_MS = 4 * _MINUTE_MS


def nightly_sleep(times: Ints, beliefs: HealthBeliefs) -> list[tuple[int, int]]:
    """Find the hours at which a logger sleeps.

    Parameters
    ----------
    times : numpy.ndarray of int64, shape (n,)
        All its reads in order, in milliseconds.
    beliefs : HealthBeliefs

    Returns
    -------
    list of tuple of int
        Milliseconds after midnight at which it falls asleep and wakes; the second is the smaller where
        midnight lies between.

    Notes
    -----
    A bird that is active by night leaves the day empty as well, but what a bird does fades in and out. Beside
    each edge of an empty time of day the days are counted whose first read (or last) of the half hour falls
    right beside the edge. Were activity to rise from nothing as a straight line, a read would fall into the
    first tenth of it with a hundredth; a clock that wakes a logger lets it fall there with at least a tenth.
    """
    if len(times) == 0 or 1 + np.count_nonzero(np.diff(times // DAY_MS)) < beliefs.sleep_nights:
        return []
    of_day = np.sort(_into_day(times))
    gaps = np.diff(of_day, append=of_day[:1] + DAY_MS)
    found = []
    for k in np.flatnonzero(gaps >= beliefs.sleep_h * 60 * _MINUTE_MS).tolist():
        last, first = int(of_day[k]), int(of_day[(k + 1) % len(of_day)])
        after = _first_of_each_day(_into_day(times - first), (times - first) // DAY_MS)
        before = _first_of_each_day(_into_day(last - times), (times - last - 1) // DAY_MS)
        told = [_sharpness(one, beliefs) for one in (before, after)]
        if (
            max(told) >= beliefs.sleep_sure
            and sum(told) >= beliefs.sleep_sure
            and min(told) >= beliefs.sleep_lesser
        ):
            found.append((_on_the_clock(last, 1) % DAY_MS, _on_the_clock(first, -1) % DAY_MS))
    return found


def sleep_beside_beats(times: Ints, beats: list[Beat], beliefs: HealthBeliefs) -> list[tuple[int, int]]:
    """Find the hours at which a logger sleeps beside which marker tags beat, that never rest.

    Parameters
    ----------
    times : numpy.ndarray of int64, shape (n,)
        All its reads in order, in milliseconds.
    beats : list of Beat
        Of its marker tags.
    beliefs : HealthBeliefs

    Returns
    -------
    list of tuple of int
        As of `nightly_sleep`: hours in which no beat was heard on any day, and too many were due for chance.
    """
    days = 1 + np.count_nonzero(np.diff(times // DAY_MS)) if len(times) else 0
    if days < beliefs.sleep_nights:
        return []
    of_day = np.sort(_into_day(times))
    gaps = np.diff(of_day, append=of_day[:1] + DAY_MS)
    found = []
    for k in np.flatnonzero(gaps >= beliefs.sleep_h * 60 * _MINUTE_MS).tolist():
        told = sum(-np.log(1 - beat.heard) * (gaps[k] // beat.interval) * days for beat in beats)
        if told >= beliefs.sleep_sure:
            last, first = int(of_day[k]), int(of_day[(k + 1) % len(of_day)])
            found.append((_on_the_clock(last, 1) % DAY_MS, _on_the_clock(first, -1) % DAY_MS))
    return found


def _into_day(at: Ints) -> Ints:
    """Milliseconds since midnight: to divide is several times as fast as to ask for the rest."""
    found: Ints = at - at // DAY_MS * DAY_MS
    return found


def _first_of_each_day(delay: Ints, day: Ints) -> Ints:
    """Shortest delay of each day; days are in order."""
    firsts = np.flatnonzero(np.diff(day, prepend=day[:1] - 1))
    found: Ints = np.minimum.reduceat(delay, firsts)
    return found


def _sharpness(delay: Ints, beliefs: HealthBeliefs) -> float:
    """Log likelihood ratio of an edge of a clock over one that fades."""
    wide, narrow = beliefs.edge_min * _MINUTE_MS, beliefs.edge_near_min * _MINUTE_MS
    near = int((delay < narrow).sum())
    rest = int((delay < wide).sum()) - near
    # the read that the edge was found by lies beside it in any case
    near -= 1
    share = narrow / wide
    return float(near * np.log(1 / share) + rest * np.log((1 - share) / (1 - share**2)))


def _on_the_clock(edge: int, way: int) -> int:
    """Move an edge into the empty time to the next full quarter of an hour, if that is near."""
    quarter = -(-edge // _QUARTER_MS) * _QUARTER_MS if way > 0 else edge // _QUARTER_MS * _QUARTER_MS
    return quarter if abs(quarter - edge) <= _SNAP_MS else edge


def sleeps_between(sleeps: list[tuple[int, int]], start: int, end: int) -> Ints:
    """Lay out the sleeps of a log.

    Parameters
    ----------
    sleeps : list of tuple of int
        As `nightly_sleep` tells them.
    start, end : int
        Of the log, in milliseconds.

    Returns
    -------
    numpy.ndarray of int64, shape (k, 2)
        Start and end of each in order, within the log.
    """
    days = np.arange(start // DAY_MS - 1, end // DAY_MS + 1) * DAY_MS
    none = np.zeros((0, 2), dtype=np.int64)
    all_ = [np.stack([days + a, days + a + (b - a) % DAY_MS], axis=1) for a, b in sleeps]
    found = np.clip(np.concatenate([none, *all_]), start, end)
    found = found[found[:, 0] < found[:, 1]]
    kept: Ints = found[np.argsort(found[:, 0], kind="stable")]
    return kept

"""Where a logger's clock was set: from the order of its memory, beats of a marker and moments known."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.hour_holes import hour_hole_p
from audit.models.marker_beats import find_beat

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.clock_limits import Anchors, ClockLimits

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Marker", "cuts", "marker_of"]

_SECOND_MS = 1000.0
_HOUR_MS = 3_600_000
_DAY_MS = 24.0 * _HOUR_MS
#: What intervals are whole numbers of, the roundest first.
_UNITS_MS = (_HOUR_MS, 60_000, 1_000)


@dataclass(frozen=True, slots=True)
class Marker:
    """Beats of a marker tag.

    Attributes
    ----------
    place : numpy.ndarray of int64
        Positions of its reads in the memory, one a beat, without those that are out of step alone.
    beat : float
        Its interval in milliseconds; nan where it has none.
    heard : float
        Share of beats heard.
    """

    place: Ints
    beat: float
    heard: float


def marker_of(stored: Ints, place: Ints, interval_s: float | None, limits: ClockLimits) -> Marker:
    """Find the interval of a marker, and which of its reads tell the time.

    Parameters
    ----------
    stored : numpy.ndarray of int64, shape (n,)
        Moments in the order of the memory, in milliseconds.
    place : numpy.ndarray of int64
        Positions of the reads of the marker.
    interval_s : float, optional
        Declared seconds between beats; else the interval found, in whole seconds where it is near to some.
    limits : ClockLimits
    """
    none = Marker(np.zeros(0, dtype=np.int64), float("nan"), limits.beats_heard)
    close = limits.beat_close_s * _SECOND_MS
    if not len(place):
        return none
    gaps = np.diff(stored[place])
    place = place[np.concatenate([[True], (gaps < 0) | (gaps > close)])]
    gaps = np.diff(stored[place])
    # a clock set back must not hide the interval: gaps, not moments, are what counts
    run = np.concatenate([[0], np.cumsum(np.abs(gaps))]).astype(np.int64)
    found = find_beat(run, limits.beats_least, limits.beats_heard, limits.beats_worth)
    if found is None:
        return none if interval_s is None else Marker(place, interval_s * _SECOND_MS, limits.beats_heard)
    # the commonest gap is known to some milliseconds only, by as many gaps as there are
    beat = (
        _set_to(found.interval, close / len(gaps), limits) if interval_s is None else interval_s * _SECOND_MS
    )
    return Marker(_in_step(stored, place, beat, limits), beat, found.heard)


def _set_to(shown: float, err: float, limits: ClockLimits) -> float:
    """Find what a timer was set to that shows an interval: the roundest time that the clock's drift allows.

    A marker that beats once a day shows 86,398 s by a clock that loses two seconds a day.
    """
    for unit in _UNITS_MS:
        whole = float(np.rint(shown / unit) * unit)
        if whole and abs(shown - whole) <= limits.drift_most * whole + err:
            return whole
    return shown


def _in_step(stored: Ints, place: Ints, beat: float, limits: ClockLimits) -> Ints:
    """Leave out reads between beats, such as of a tag that somebody held to the antenna.

    They are out of step with beats before and after, which agree; at either end with the one beside, sooner
    than a beat.
    """
    if len(place) < 3:  # noqa: PLR2004 - one with neighbours
        return place
    shown = stored[place].astype(np.float64)
    slack = limits.step_s * _SECOND_MS

    def off(gap: Floats) -> Floats:
        found: Floats = np.abs(gap - np.rint(gap / beat) * beat) - limits.drift_most * np.abs(gap)
        return found

    kept = np.ones(len(place), dtype=np.bool_)
    for many in range(1, min(limits.held_most, len(place) - 2) + 1):
        agree = off(shown[many + 1 :] - shown[: -many - 1]) <= slack
        for nr in range(1, many + 1):
            last = len(shown) - many + nr - 1
            agree &= off(shown[nr:last] - shown[: last - nr]) > slack
            agree &= off(shown[many + 1 :] - shown[nr:last]) > slack
        for nr in range(1, many + 1):
            kept[nr : len(shown) - many + nr - 1] &= ~agree
    place, gap = place[kept], np.diff(shown[kept])
    if len(place) < 3:  # noqa: PLR2004 - one with neighbours
        return place
    lone = (off(gap) > slack) & (gap > 0) & (gap < beat)
    first, end = bool(lone[0] and not lone[1]), bool(lone[-1] and not lone[-2])
    found: Ints = place[int(first) : len(place) - int(end)]
    return found


def cuts(
    stored: Ints, limits: ClockLimits, marker: Marker, anchors: Anchors, changes: Ints, ended: float
) -> dict[int, float]:
    """Find where the clock was set.

    Parameters
    ----------
    stored : numpy.ndarray of int64, shape (n,)
        Moments in the order of the memory, in milliseconds.
    limits : ClockLimits
    marker : Marker
    anchors : Anchors
    changes : numpy.ndarray of int64
        Moments, by the clock, at which clocks are legally put on by an hour.
    ended : float
        By how many milliseconds the logger ended after others; nan where these did not end together.

    Returns
    -------
    dict
        Position of the first read after a step -> probability that there is one.
    """
    least = limits.step_s * _SECOND_MS
    gaps = np.diff(stored)
    found = dict.fromkeys(
        (np.flatnonzero((gaps < -least) | (gaps > limits.leap_d * _DAY_MS)) + 1).tolist(), 1.0
    )

    found |= dict.fromkeys(_put_on_by_days(gaps, marker, limits), 1.0)

    def cut(low: int, high: int, p: float = 1.0) -> None:
        """Cut between two reads, at their widest gap, unless a step was seen there."""
        if low < high and not any(low < one <= high for one in found):
            found[low + 1 + int(np.argmax(gaps[low:high]))] = p

    if len(marker.place) > 1 and np.isfinite(marker.beat):
        for low, high, p in _between_beats(stored, gaps, limits, marker, changes, ended):
            cut(low, high, p)
    off = stored[anchors.place] - anchors.true
    for k in range(len(off) - 1):
        low, high = int(anchors.place[k]), int(anchors.place[k + 1])
        gained = limits.drift_most * abs(float(stored[high] - stored[low]))
        if abs(off[k + 1] - off[k]) > least + 2 * limits.visit_s * _SECOND_MS + gained:
            cut(low, high)
    return dict(sorted(found.items()))


def _put_on_by_days(gaps: Ints, marker: Marker, limits: ClockLimits) -> list[int]:
    """Find first reads after a hole of just the days by which a clock was set back later.

    A logger that was off for a day, and whose clock was a day ahead, too, is rarer than a clock that was put
    on by a day and back again. Beside a marker that beats rarely days without a read are common.
    """
    if not (np.isfinite(marker.beat) and len(marker.place) > 1 and marker.beat <= _HOUR_MS):
        return []
    found = []
    for place in np.flatnonzero(gaps < -_DAY_MS / 2).tolist():
        hole = np.ceil(-gaps[place] / _DAY_MS) * _DAY_MS
        if hole <= limits.leap_d * _DAY_MS:
            # none of its days was read, and few beats beside
            beside = gaps[:place] - hole
            holes = np.flatnonzero((beside >= 0) & (beside <= (1 + limits.beats_beside) * marker.beat))
            found += (holes[-1:] + 1).tolist()
    return found


def _between_beats(
    stored: Ints, gaps: Ints, limits: ClockLimits, marker: Marker, changes: Ints, ended: float
) -> list[tuple[int, int, float]]:
    """Find pairs of beats between which the clock was set: positions, and how likely it is."""
    least = limits.step_s * _SECOND_MS
    place, beat = marker.place, marker.beat
    gap = np.diff(stored[place]).astype(np.float64)
    # what a quartz clock gains meanwhile is no step
    slack = least + limits.drift_most * np.abs(gap)
    away = np.abs(gap - np.maximum(np.rint(gap / beat), 1) * beat)
    told = [
        (int(place[k]), int(place[k + 1]), 1.0)
        for k in np.flatnonzero((away > slack) & (gap > limits.beat_close_s * _SECOND_MS)).tolist()
    ]
    # an hour is a whole number of many intervals and moves no beat
    more = np.rint((gap - _HOUR_MS) / beat)
    fits = (np.abs(gap - _HOUR_MS - more * beat) < slack) & (more >= 1) & (more <= 1 + limits.beats_beside)
    # one read in the hour, and it was no hole
    widest = np.maximum.reduceat(gaps, place[:-1])[: len(gap)]
    is_beat = np.zeros(len(stored), dtype=np.bool_)
    is_beat[place] = True
    for k in np.flatnonzero(fits & (away <= slack) & (widest >= _HOUR_MS - least)).tolist():
        low, high = int(place[k]), int(place[k + 1])
        at = low + int(np.argmax(gaps[low:high]))
        shown = int(stored[at]), int(stored[at + 1])
        missed = int(more[k]) - 1, int(np.rint(gap[k] / beat)) - 1
        legal = bool(((changes >= shown[0]) & (changes + _HOUR_MS <= shown[1] + least)).any())
        p = hour_hole_p(stored[~is_beat], shown, missed, marker.heard, limits, legal=legal, ended=ended)
        told.append((low, high, p))
    return told

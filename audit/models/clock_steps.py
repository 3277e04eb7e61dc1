"""Where a logger's clock was set, and by how much: from the order of its memory, beats and moments known."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.marker_beats import find_beat

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Anchors", "ClockLimits", "ClockPart", "beat_ms", "clock_parts", "levels"]

_SECOND_MS = 1000.0
_HOUR_MS = 3_600_000.0
_DAY_MS = 24 * _HOUR_MS
#: Beats whose middle stands for the clock around them.
_SMOOTHED = 9
#: Reads closer than this are of one beat.
_CLOSE_MS = 5_000.0
#: What a missed beat costs, as a natural logarithm, with 94 in a hundred heard; and a step that is no hour.
_MISSED, _NO_HOUR = 2.8, 3.0
#: Without a beat for so many intervals is no chance.
_MANY = 3.5
#: Months in which clocks are set on for the summer north and south of the line, and until when in the night.
_SPRING = (3, 4, 9, 10, 11)
_NIGHT_UNTIL_MS = 3.5 * _HOUR_MS


@dataclass(frozen=True, slots=True)
class ClockLimits:
    """Numbers by which steps are seen; those of ``antennas.clock`` under the same names.

    Attributes
    ----------
    step_s : float
        A smaller step is none, in seconds.
    leap_d : float
        A silence longer than so many days is odd: the clock may have leapt.
    hour_within_s : float
        A step this near to an hour is one of daylight saving.
    drift_most : float
        Seconds per second; what drifts faster is no quartz clock.
    usual_s : float
        How far off clocks usually are, in seconds, where beats leave open which of several intervals a step
        was.
    visit_s : float
        How far apart the reads of one tag by two readers at one visit usually are, in seconds.
    starts : tuple of float
        Moments, in seconds since 1970, at which clocks begin anew after their battery was flat.
    started_d : float
        Days after one of these that a clock may show.
    """

    step_s: float
    leap_d: float
    hour_within_s: float
    drift_most: float
    usual_s: float
    visit_s: float
    starts: tuple[float, ...]
    started_d: float


@dataclass(frozen=True, slots=True)
class Anchors:
    """Moments known otherwise.

    Attributes
    ----------
    place : numpy.ndarray of int, shape (a,)
        Position of the read in the memory, in order.
    true : numpy.ndarray of float, shape (a,)
        When it really was, in milliseconds since 1970.
    """

    place: Ints
    true: Floats


@dataclass(frozen=True, slots=True)
class ClockPart:
    """A time in which the clock was not touched.

    Attributes
    ----------
    first, end : int
        Positions of its first read, and behind its last.
    shape : numpy.ndarray of float, shape (end - first,)
        How the clock went within it, in milliseconds, its level left open.
    beats : numpy.ndarray of int
        Positions of the reads of the marker tag in it.
    anchors : numpy.ndarray of float
        Level by each moment known otherwise, in milliseconds.
    """

    first: int
    end: int
    shape: Floats
    beats: Ints
    anchors: Floats


def beat_ms(times: Ints, interval_s: float | None) -> float | None:
    """Return the interval of a marker tag in milliseconds: as told, or as found in whole seconds."""
    if interval_s is not None:
        return interval_s * _SECOND_MS
    gaps = np.diff(times)
    # a clock set back must not hide the interval: gaps, not moments, are what counts
    run = np.concatenate([[0], np.cumsum(np.abs(gaps))]).astype(np.int64)
    found = find_beat(run, 20, 0.9, 1)
    return None if found is None else float(np.rint(found.interval / _SECOND_MS) * _SECOND_MS)


def _cuts(stored: Ints, limits: ClockLimits, beats: Ints, beat: float | None, anchors: Anchors) -> list[int]:
    """Positions of the first reads after a step."""
    least = limits.step_s * _SECOND_MS
    gaps = np.diff(stored)
    cuts = set((np.flatnonzero((gaps < -least) | (gaps > limits.leap_d * _DAY_MS)) + 1).tolist())

    def cut(low: int, high: int) -> None:
        """Cut between two reads, at their widest gap, unless a step was seen there."""
        if low < high and not any(low < one <= high for one in cuts):
            cuts.add(low + 1 + int(np.argmax(gaps[low:high])))

    if beat is not None:
        gap = np.diff(stored[beats]).astype(np.float64)
        # what a quartz clock gains meanwhile is no step
        slack = least + limits.drift_most * np.abs(gap)
        away = np.abs(gap - np.maximum(np.rint(gap / beat), 1) * beat)
        for k in np.flatnonzero((away > slack) & (gap > _CLOSE_MS)).tolist():
            cut(int(beats[k]), int(beats[k + 1]))
        # an hour is a whole number of many intervals and moves no beat: a log that is silent for just an hour
        # once is one set on, one that is silent now and then is not, except when clocks are changed
        widest = np.maximum.reduceat(gaps, beats[:-1])[: len(gap)] if len(gap) else gap
        silent = (widest >= _HOUR_MS - least) & (gap > _MANY * beat)
        hour = silent & (np.abs(gap - _HOUR_MS - beat) < least)
        for k in np.flatnonzero(hour).tolist():
            low, high = int(beats[k]), int(beats[k + 1])
            if silent.sum() == 1 or _changes_then(int(stored[low]), int(stored[high])):
                cut(low, high)
    off = stored[anchors.place] - anchors.true
    for k in range(len(off) - 1):
        low, high = int(anchors.place[k]), int(anchors.place[k + 1])
        gained = limits.drift_most * abs(float(stored[high] - stored[low]))
        if abs(off[k + 1] - off[k]) > least + 2 * limits.visit_s * _SECOND_MS + gained:
            cut(low, high)
    return sorted(cuts)


def _changes_then(before: int, after: int) -> bool:
    """Whether clocks are set on for the summer between two moments: in a night to a Sunday of spring."""
    day = after // int(_DAY_MS)
    month = int(str(np.datetime64(day, "D"))[5:7])
    sunday = (day + 4) % 7 == 0
    return sunday and month in _SPRING and before % _DAY_MS < _NIGHT_UNTIL_MS


def _part(
    stored: Ints,
    first: int,
    end: int,
    beats: Ints,
    beat: float | None,
    anchors: Anchors,
    limits: ClockLimits,
) -> ClockPart:
    """Lay out a piece: how its clock went, its level left open."""
    own = (anchors.place >= first) & (anchors.place < end)
    here, off = anchors.place[own], stored[anchors.place[own]] - anchors.true[own]
    mine = beats[(beats >= first) & (beats < end)]
    moments = stored[first:end].astype(np.float64)
    shape = np.zeros(len(moments))
    if beat is not None and len(mine) > 1:
        shown = stored[mine].astype(np.float64)
        number = np.concatenate([[0.0], np.cumsum(np.rint(np.diff(shown) / beat))])
        shape = np.interp(moments, *_smooth(shown, shown - shown[0] - number * beat))
    elif len(here) > 1:
        shown = stored[here].astype(np.float64)
        slope = _slope(shown, off) if shown.max() - shown.min() > _DAY_MS else 0.0
        if abs(slope) <= limits.drift_most:
            shape = slope * (moments - shown[0])
    return ClockPart(first, end, shape, mine, off - shape[here - first])


def _slope(x: Floats, y: Floats) -> float:
    """Theil's slope: the median of those of all pairs."""
    i, j = np.triu_indices(len(x), 1)
    far = x[j] - x[i] > 0
    return float(np.median((y[j] - y[i])[far] / (x[j] - x[i])[far])) if far.any() else 0.0


def _smooth(shown: Floats, ahead: Floats) -> tuple[Floats, Floats]:
    """Take running medians of beats."""
    width = min(_SMOOTHED, len(ahead) - 1 + len(ahead) % 2)
    if width < 3:  # noqa: PLR2004 - nothing to smooth
        return shown, ahead
    padded = np.pad(ahead, width // 2, mode="edge")
    return shown, np.median(np.lib.stride_tricks.sliding_window_view(padded, width), axis=1)


def levels(stored: Ints, parts: list[ClockPart], beat: float | None, limits: ClockLimits) -> list[float]:
    """Find the level of each piece, in milliseconds: by its anchors, and by the steps between pieces.

    Parameters
    ----------
    stored : numpy.ndarray of int64, shape (n,)
        Moments in the order of the memory, in milliseconds.
    parts : list of ClockPart
    beat : float, optional
        Interval of the marker tag in milliseconds.
    limits : ClockLimits

    Returns
    -------
    list of float
        nan where nothing tells.
    """
    level = [float(np.median(part.anchors)) if len(part.anchors) else float("nan") for part in parts]
    if all(np.isnan(level)):
        level[0] = 0.0
    for k, of in [(k, k - 1) for k in range(1, len(parts))] + [
        (k, k + 1) for k in range(len(parts) - 2, -1, -1)
    ]:
        if not np.isnan(level[k]) or np.isnan(level[of]):
            continue
        low, high = parts[min(k, of)], parts[max(k, of)]
        sign = 1 if k > of else -1
        # from the end of the earlier piece to the beginning of the later one
        base = level[of] + sign * float(low.shape[-1] - high.shape[0])
        steps, cost = _steps(stored, low, high, beat, limits)
        if len(steps):
            reached = base + sign * steps
            level[k] = float(reached[np.argmin(cost + np.abs(reached) / (limits.usual_s * _SECOND_MS))])
    return _together(stored, parts, level, beat)


def _together(stored: Ints, parts: list[ClockPart], level: list[float], beat: float | None) -> list[float]:
    """Let anchors of all pieces tell of each, where beats tell the steps but for whole intervals."""
    if beat is None or len(parts) < 2 or any(len(part.beats) < 2 for part in parts):  # noqa: PLR2004 - a pair
        return level
    # where in the interval the beats of each piece fall, its clock set right
    phase = np.array([float(stored[part.beats[0]]) - one for part, one in zip(parts, level, strict=True)])
    phase -= [float(part.shape[part.beats[0] - part.first]) for part in parts]
    weight = np.array([len(part.anchors) for part in parts], dtype=np.float64)
    if np.isnan(phase).any() or not weight.any():
        return level
    off = (phase - phase[np.argmax(weight)] + beat / 2) % beat - beat / 2
    middle = float((weight * off).sum() / weight.sum())
    return [one + float(o) - middle for one, o in zip(level, off, strict=True)]


def _steps(
    stored: Ints, low: ClockPart, high: ClockPart, beat: float | None, limits: ClockLimits
) -> tuple[Floats, Floats]:
    """By how many milliseconds a clock may have been set on between two pieces, and how unlikely each is."""
    if beat is not None and len(low.beats) and len(high.beats):
        gap = float(stored[high.beats[0]] - stored[low.beats[-1]])
        number = np.arange(1, 1 + max(2, int(2 * _HOUR_MS // beat)))
        steps = gap - number * beat
        hour = np.abs(np.abs(steps) - _HOUR_MS) <= limits.step_s * _SECOND_MS
        # beats are missed now and then; that an hour fits by chance is rare
        cost = np.where(hour, 0.0, _MISSED * (number - 1) + _NO_HOUR * bool(hour.any()))
        return steps.astype(np.float64), cost.astype(np.float64)
    shown = float(stored[high.first] - stored[low.end - 1])
    if -_HOUR_MS <= shown < 0:
        return np.array([-_HOUR_MS]), np.zeros(1)
    return np.zeros(0), np.zeros(0)


def clock_parts(
    stored: Ints, limits: ClockLimits, beats: Ints, beat: float | None, anchors: Anchors
) -> list[ClockPart]:
    """Cut a memory where its clock was set, and lay out how it went between.

    Parameters
    ----------
    stored : numpy.ndarray of int64, shape (n,)
        Moments in the order of the memory, in milliseconds.
    limits : ClockLimits
    beats : numpy.ndarray of int, shape (b,)
        Positions of the reads of a marker tag.
    beat : float, optional
        Its interval in milliseconds.
    anchors : Anchors
    """
    cuts = _cuts(stored, limits, beats, beat, anchors)
    return [
        _part(stored, first, end, beats, beat, anchors, limits)
        for first, end in zip([0, *cuts], [*cuts, len(stored)], strict=True)
        if first < end
    ]

"""How far off a logger's clock was in each piece: by moments known otherwise, and by the steps between."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.models.clock_limits import ClockLimits
    from audit.models.clock_pieces import ClockPart
    from audit.models.clock_steps import Marker

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Ways = tuple[tuple[int, float], ...]

__all__ = ["levels"]

_SECOND_MS = 1000.0
_HOUR_MS = 3_600_000.0
_DAY_MS = 24 * _HOUR_MS


def levels(
    stored: Ints,
    parts: list[ClockPart],
    marker: Marker,
    limits: ClockLimits,
    backs: Ints,
    ended: float = float("nan"),
) -> tuple[list[float], list[Ways]]:
    """Find the level of each piece, in milliseconds: by its anchors, and by the steps between pieces.

    Parameters
    ----------
    stored : numpy.ndarray of int64, shape (n,)
        Moments in the order of the memory, in milliseconds.
    parts : list of ClockPart
    marker : Marker
    limits : ClockLimits
    backs : numpy.ndarray of int64
        Moments, by the clock, at which clocks are legally put back by an hour.
    ended : float
        By how many milliseconds the logger ended after others, by its own clock; nan where these did not end
        together.

    Returns
    -------
    level : list of float
        nan where nothing tells.
    ways : list of tuple of (int, float)
        For each piece, by how many more whole intervals its clock may have been set on where it begins, and
        how likely that is beside the likeliest, by beats missed and by reads that cannot go back; empty for
        the first, and where nothing tells.
    """
    level = [float(np.median(part.anchors)) if len(part.anchors) else float("nan") for part in parts]
    anchored = not all(np.isnan(level))
    if not anchored:
        level[_reference(stored, parts, limits)] = 0.0
    for k, of in [(k, k - 1) for k in range(1, len(parts))] + [
        (k, k + 1) for k in range(len(parts) - 2, -1, -1)
    ]:
        if not np.isnan(level[k]) or np.isnan(level[of]):
            continue
        low, high = parts[min(k, of)], parts[max(k, of)]
        sign = 1 if k > of else -1
        # from the end of the earlier piece to the beginning of the later one
        base = level[of] + sign * float(low.shape[-1] - high.shape[0])
        steps, cost = _steps(stored, (low, high), marker, limits, backs)
        if len(steps):
            reached = base + sign * steps
            far = np.log1p(np.abs(reached) / (limits.usual_s * _SECOND_MS))
            level[k] = float(reached[np.argmin(cost + far)])
    if not anchored:
        level = _since_set_back(parts, level, limits, ended)
    level = _together(stored, parts, level, marker.beat)
    ways: list[Ways] = [()]
    for pair, (before, after) in zip(pairwise(parts), pairwise(level), strict=True):
        by = after + float(pair[1].shape[0]) - before - float(pair[0].shape[-1])
        ways.append(_ways(_steps(stored, pair, marker, limits, backs), by, marker.beat))
    return level, ways


def _ways(steps: tuple[Floats, Floats], by: float, beat: float) -> Ways:
    """Say how likely other steps than the one taken are, by how many whole intervals more they go."""
    some, cost = steps
    if np.isnan(by) or not (np.isfinite(beat) and len(some)):
        return ()
    more = np.rint((some - by) / beat).astype(np.int64).tolist()
    return tuple(zip(more, np.exp(np.min(cost) - cost).tolist(), strict=True))


def _since_set_back(
    parts: Sequence[ClockPart], level: list[float], limits: ClockLimits, ended: float
) -> list[float]:
    """Take a clock that was set back by whole days, and not put on again, to be right from then on.

    No clock falls back by just a day by itself: somebody saw that it was ahead. Where others ended together,
    and it ended days before them by its own clock, it was set wrongly then.
    """
    near = limits.usual_s * _SECOND_MS
    last, first = level[-1], next((one for one in level if not np.isnan(one)), 0.0)
    days = round((first - last) / _DAY_MS) if not np.isnan(last) else 0
    if not 1 <= days <= limits.leap_d:
        return level
    for (low, before), (high, after) in pairwise(zip(parts, level, strict=True)):
        step = after + float(high.shape[0]) - before - float(low.shape[-1])
        if abs(step + days * _DAY_MS) <= near and abs(last - after) <= near:
            early = np.isfinite(ended) and abs(ended + days * _DAY_MS) <= limits.ended_within_s * _SECOND_MS
            # what it was beside whole days is left to the marker, as with any clock
            return level if early else [one + days * _DAY_MS for one in level]
    return level


def _reference(stored: Ints, parts: Sequence[ClockPart], limits: ClockLimits) -> int:
    """Find the piece taken to be right: the first that does not begin anew after a flat battery."""
    for nr, part in enumerate(parts):
        shown = float(stored[part.first]) / _SECOND_MS
        day_s = _DAY_MS / _SECOND_MS
        if not any(-limits.usual_s <= shown - start <= limits.started_d * day_s for start in limits.starts):
            return nr
    return 0


def _together(stored: Ints, parts: list[ClockPart], level: list[float], beat: float) -> list[float]:
    """Let anchors of all pieces tell of each, where beats tell the steps but for whole intervals."""
    if not np.isfinite(beat) or len(parts) < 2 or any(len(part.beats) < 2 for part in parts):  # noqa: PLR2004 - a pair
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
    stored: Ints, pair: tuple[ClockPart, ClockPart], marker: Marker, limits: ClockLimits, backs: Ints
) -> tuple[Floats, Floats]:
    """By how many milliseconds a clock may have been set on between two pieces, and how unlikely each is."""
    low, high = pair
    last, first = int(stored[low.end - 1]), int(stored[high.first])
    # before clocks go back an hour they show later moments than after it
    legal = bool(((backs >= last - _HOUR_MS) & (backs <= first + 2 * _HOUR_MS) & (first < last)).any())
    if np.isfinite(marker.beat) and len(low.beats) and len(high.beats):
        gap = float(stored[high.beats[0]] - stored[low.beats[-1]])
        most = max(2, int(2 * _HOUR_MS // marker.beat), int(gap // marker.beat) + 2)
        # further back is a clock that began anew
        days = np.ceil(max(0.0, -gap) / _DAY_MS) * _DAY_MS if -gap < limits.leap_d * _DAY_MS else 0.0
        number = np.arange(1.0, 1 + max(most, int((gap + days) // marker.beat) + 1))
        steps = gap - number * marker.beat
        # back by whole days, and so past beats that show what was shown before
        day = (days > 0) & (np.abs(steps + days) <= limits.step_s * _SECOND_MS)
        # a read after the step cannot be earlier than the one before it
        can = (steps <= first - last + _SECOND_MS) & ((number < 1 + most) | day)
        shown_before = _shown_before(stored, pair, marker.beat, len(number)) if day.any() else 0.0
        unheard = (number - 1 - np.where(day, shown_before, 0.0))[can]
        steps, number, day = steps[can], number[can], day[can]
        on_day = np.rint(steps / _DAY_MS)
        # on by whole days, of which no beat was read and few beside
        on = (on_day > 0) & (np.abs(steps - on_day * _DAY_MS) <= limits.step_s * _SECOND_MS)
        on &= number <= 1 + limits.beats_beside
        hour = day | (np.abs(np.abs(steps) - _HOUR_MS) <= limits.step_s * _SECOND_MS)
        missed = -np.log(1 - min(marker.heard, 0.99)) * unheard
        # few other steps are a whole number of intervals off an hour, to some seconds
        rare = np.log(max(1.0, marker.beat / (2 * limits.step_s * _SECOND_MS)))
        gains = rare + (limits.legal_gains if legal else limits.hour_gains)
        missed = np.minimum(missed, limits.off_costs + np.log(number))
        cost = np.minimum(missed, _in_pauses(stored, marker, number)) - np.where(hour, gains, 0.0)
        cost -= np.where(on & ~hour, rare + limits.legal_gains, 0.0)
        # who puts a clock on so far takes the wrong day and nothing else; a logger may be off for as long
        days_on = (steps > _DAY_MS / 2) & (steps <= limits.leap_d * _DAY_MS) & ~on
        cost += np.where(days_on, limits.days_cost, 0.0)
        return steps.astype(np.float64), cost.astype(np.float64)
    if legal and first - last >= -_HOUR_MS:
        return np.array([-_HOUR_MS]), np.zeros(1)
    return np.zeros(0), np.zeros(0)


def _shown_before(stored: Ints, pair: tuple[ClockPart, ClockPart], beat: float, most: int) -> Floats:
    """Count the beats before the first of the later piece that show a moment of the earlier one, by number.

    Where many reads stand twice the log leaves out the second ones, so that these are no beats missed. None
    are left out where any such read of the later piece is there.
    """
    low, high = stored[pair[0].beats], stored[pair[1].beats]
    if np.isin(high, low).any():
        return np.zeros(most)
    expected = high[0] - np.arange(most) * beat
    near = low[np.clip(np.searchsorted(low, expected - _SECOND_MS), 0, len(low) - 1)]
    shown = np.abs(near - expected) <= _SECOND_MS
    found: Floats = np.cumsum(shown).astype(np.float64)
    return found


def _in_pauses(stored: Ints, marker: Marker, number: Floats) -> Floats:
    """Say how unlikely it is that a clock was set in a pause of so many beats: by the time such pauses take.

    A clock is set at any moment, so that of a logger that sleeps half the day mostly while it sleeps.
    The pause in which it was set does not speak for itself.
    """
    beats = np.sort(np.rint(np.abs(np.diff(stored[marker.place])) / marker.beat))
    after = np.concatenate([np.cumsum(beats[::-1])[::-1], [0.0]])
    place = np.searchsorted(beats, number)
    taken = after[place] - np.where(place < len(beats), beats[np.minimum(place, len(beats) - 1)], 0.0)
    with np.errstate(divide="ignore"):
        found: Floats = -np.log(taken / max(1.0, float(after[0])))
    return found

"""Pieces in which a logger's clock was not touched, and how it went within each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.models.clock_limits import Anchors, ClockLimits
    from audit.models.clock_steps import Marker

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["ClockPart", "clock_parts"]

_DAY_MS = 86_400_000.0


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


def _part(
    stored: Ints, bounds: tuple[int, int], marker: Marker, anchors: Anchors, limits: ClockLimits
) -> ClockPart:
    """Lay out a piece: how its clock went, its level left open."""
    first, end = bounds
    own = (anchors.place >= first) & (anchors.place < end)
    here, off = anchors.place[own], stored[anchors.place[own]] - anchors.true[own]
    mine = marker.place[(marker.place >= first) & (marker.place < end)]
    moments = stored[first:end].astype(np.float64)
    shape = np.zeros(len(moments))
    if np.isfinite(marker.beat) and len(mine) > 1:
        shown = stored[mine].astype(np.float64)
        number = np.concatenate([[0.0], np.cumsum(np.rint(np.diff(shown) / marker.beat))])
        # drift changes with the weather: of beats hours apart fewer stand for the clock around them
        most = min(limits.smoothed, int(limits.smoothed_d * _DAY_MS // marker.beat) + 1)
        most = max(limits.smoothed_least, most - 1 + most % 2)
        gone = _smooth(shown, shown - shown[0] - number * marker.beat, most)
        shape = np.interp(moments, *gone) + _beyond(moments, *gone, limits)
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


def _smooth(shown: Floats, ahead: Floats, most: int) -> tuple[Floats, Floats]:
    """Take running medians of beats."""
    width = min(most, len(ahead) - 1 + len(ahead) % 2)
    if width < 3:  # noqa: PLR2004 - nothing to smooth
        return shown, ahead
    # a clock goes on to drift at either end
    padded = np.pad(ahead, width // 2, mode="reflect", reflect_type="odd")
    return shown, np.median(np.lib.stride_tricks.sliding_window_view(padded, width), axis=1)


def _beyond(moments: Floats, shown: Floats, ahead: Floats, limits: ClockLimits) -> Floats:
    """Let a clock drift before its first beat and behind its last one as it did between them."""
    span = float(shown[-1] - shown[0])
    drift = float(ahead[-1] - ahead[0]) / span if span >= _DAY_MS else 0.0
    before, behind = np.minimum(moments - shown[0], 0.0), np.maximum(moments - shown[-1], 0.0)
    found: Floats = (before + behind) * (drift if abs(drift) <= limits.drift_most else 0.0)
    return found


def clock_parts(
    stored: Ints, cuts: Sequence[int], marker: Marker, anchors: Anchors, limits: ClockLimits
) -> list[ClockPart]:
    """Lay out how the clock went between the steps.

    Parameters
    ----------
    stored : numpy.ndarray of int64, shape (n,)
        Moments in the order of the memory, in milliseconds.
    cuts : sequence of int
        Positions of the first reads after a step, in order.
    marker : Marker
    anchors : Anchors
    limits : ClockLimits
    """
    bounds = zip([0, *cuts], [*cuts, len(stored)], strict=True)
    return [_part(stored, bound, marker, anchors, limits) for bound in bounds if bound[0] < bound[1]]

"""The straight line of a clock that nobody touched: how far it was off, and how much it gained."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from audit.models.clock_calendar import DAY_S, exchange_day_and_month
from audit.models.clock_offsets import kind_of, usual_offset
from audit.models.clock_segments import Segment

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.clock_beliefs import ClockBeliefs, Known

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["refined"]

_MINUTE_S = 60.0
#: Standard deviation of a normal in median absolute deviations, and of its median in those of its mean.
_MAD = 1.4826
_MEDIAN = 1.2533
#: Tukey's biweight: 95 % as good as least squares where nothing is odd.
_TUKEY = 4.685
_TURNS = 10


def refined(
    stored: Floats,
    known: Known,
    at: Ints,
    fits: Flags,
    offset: float,
    place: tuple[int, int],
    beliefs: ClockBeliefs,
) -> Segment:
    """Measure the offset and drift of a segment by the moments that it explains."""
    since = float(stored[at[0]])
    inside = np.zeros(len(stored), dtype=bool)
    inside[at[fits]] = True
    away = stored[known.read] - offset
    away = np.maximum(np.maximum(known.low - away, away - known.high), 0.0)
    chosen = inside[known.read] & (away <= beliefs.explained * known.spread)
    n = int(inside.sum())
    made = Segment(*place, "right", 0.0, 0.0, 0.0, np.inf, since, 0.0, 0.0, n, exact=False)
    exact = chosen & known.exact
    if exact.sum() > 2:  # noqa: PLR2004 - two may both be wrong
        moments = stored[known.read[exact]]
        off = moments - (known.low[exact] + known.high[exact]) / 2
        middle = float(np.median(off))
        wide = _MAD * float(np.median(np.abs(off - middle))) + _MINUTE_S / np.sqrt(12)
        sd = _MEDIAN * wide / np.sqrt(len(off))
        kind, used = kind_of(middle, beliefs)
        drift, drift_sd, begun = _drift(moments - since, off, wide, beliefs)
        if drift:
            # the offset as it was at the first read
            kind, used = kind_of(begun, beliefs)
            middle = begun
        made = replace(
            made,
            kind=kind,
            offset=used,
            low=middle - 2 * sd,
            high=middle + 2 * sd,
            sd=sd,
            drift=drift,
            drift_sd=drift_sd,
            exact=True,
        )
    elif offset and chosen.any():
        low = float((stored[known.read[chosen]] - known.high[chosen]).max())
        high = float((stored[known.read[chosen]] - known.low[chosen]).min())
        low, high = min(low, offset), max(high, offset)
        used = usual_offset(low, high, beliefs)
        made = replace(
            made,
            kind=kind_of(used, beliefs)[0],
            offset=used,
            low=low,
            high=high,
            sd=(high - low) / np.sqrt(12),
        )
    return _by_calendar(made, beliefs) if made.offset else made


def _by_calendar(segment: Segment, beliefs: ClockBeliefs) -> Segment:
    """Name an offset by what the clock showed at first: a start date, the day and month exchanged, a year."""
    shown, true = segment.since, segment.since - segment.offset
    starts = np.array(beliefs.starts)
    begun = starts[(starts <= shown) & (shown - starts <= beliefs.started)]
    if len(begun) and true - shown > beliefs.started:
        return replace(segment, kind="reset")
    if segment.kind == "days":
        one, other = (np.array([moment]) for moment in (shown, true))
        if np.floor(exchange_day_and_month(other)[0] / DAY_S) == np.floor(one[0] / DAY_S):
            return replace(segment, kind="exchanged")
        dates = [np.datetime64(int(moment // DAY_S), "D") for moment in (shown, true)]
        if str(dates[0])[-5:] == str(dates[1])[-5:]:
            return replace(segment, kind="year")
    return segment


def _drift(since: Floats, off: Floats, wide: float, beliefs: ClockBeliefs) -> tuple[float, float, float]:
    """Slope of the offset and its standard error, 0 where it is not sure; the offset at first."""
    span = float(since.max() - since.min())
    if span < beliefs.drift_days * DAY_S or len(off) <= 2:  # noqa: PLR2004 - a line needs more than two
        return 0.0, 0.0, float(np.median(off))
    weight = np.ones(len(off))
    slope, middle, x = 0.0, 0.0, since
    sd = wide
    for _ in range(_TURNS):
        total = weight.sum()
        x = since - (weight * since).sum() / total
        middle = float((weight * off).sum() / total)
        ground = float((weight * x * x).sum())
        if ground <= 0:
            return 0.0, 0.0, float(np.median(off))
        slope = float((weight * x * off).sum() / ground)
        left = off - middle - slope * x
        sd = _MAD * float(np.median(np.abs(left))) + _MINUTE_S / np.sqrt(12)
        weight = np.clip(1 - (left / (_TUKEY * sd)) ** 2, 0.0, None) ** 2
        if not weight.any():
            return 0.0, 0.0, float(np.median(off))
    error = sd / np.sqrt(float((weight * x * x).sum()))
    sure = abs(slope) > beliefs.drift_sure * error and abs(slope) * span >= beliefs.drift_least
    if not sure or abs(slope) > beliefs.drift_most:
        return 0.0, error, float(np.median(off))
    return slope, error, middle - slope * float((since - x).mean())

"""The clock of a reader, found from moments that are known otherwise: set wrong, reset, or running fast.

A clock that was never touched is a straight line: what it shows is the true moment, plus how far it was off
when it was set, plus its drift. Whoever sets it, or lets its battery run flat, begins another line. Here the
lines are found from reads whose true moment is known to a minute, or only to a day, some of them wrongly.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = [
    "DAY_S",
    "Clock",
    "ClockBeliefs",
    "Known",
    "Segment",
    "exchange_day_and_month",
    "find_clock",
    "true_moment",
]

HOUR_S = 3600.0
DAY_S = 24 * HOUR_S
_MINUTE_S = 60.0
#: Standard deviation of a normal in median absolute deviations, and of its median in those of its mean.
_MAD = 1.4826
_MEDIAN = 1.2533
#: Tukey's biweight: 95 % as good as least squares where nothing is odd.
_TUKEY = 4.685
_TURNS = 10


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of the true moments of reads; a read may have several, some of them wrong.

    Attributes
    ----------
    read : numpy.ndarray of int, shape (p,)
        Position of the read.
    low, high : numpy.ndarray of float, shape (p,)
        The true moment lies between them; in seconds.
    spread : numpy.ndarray of float, shape (p,)
        How far beyond it usually may lie, in seconds: the mean of an exponential.
    weight : numpy.ndarray of float, shape (p,)
        How far it is believed; those of one read make less than 1.
    exact : numpy.ndarray of bool, shape (p,)
        Whether a time of day is known.
    """

    read: Ints
    low: Floats
    high: Floats
    spread: Floats
    weight: Floats
    exact: Flags


@dataclass(frozen=True, slots=True)
class ClockBeliefs:
    """What is believed of clocks before one is looked at. Moments are seconds, costs natural logarithms.

    Attributes
    ----------
    wrong, span : float
        Share of reads whose known moments are all wrong, and among how many seconds these then lie.
    reads_a_day : float
        So many reads of a day count: what is wrong for one is often wrong for all.
    explained : float
        A moment that is less likely than the likeliest by so much is not explained.
    change, change_at_step : float
        Cost of a clock being set; the same where what is stored goes back, or leaps.
    costs : mapping of str to float
        Cost of an offset by its kind.
    as_it_stands : float
        Smaller offsets are none.
    pause : float
        So long without a read parts two visits.
    leap : float
        So long without a read is odd.
    starts : tuple of float
        Moments at which clocks begin anew after their battery was flat.
    started : float
        So long after one of these a clock may have begun there.
    hour_within, hours_within, days_within : float
        How far from one hour, other hours and whole days an offset may be and still be taken for these.
    most_hours : float
        Largest offset by a wrong zone.
    drift_most : float
        Drifts beyond are none of a quartz clock; seconds per second.
    drift_sure : float
        Standard errors that a drift must differ from none by.
    drift_least : float
        Seconds that it must make over a segment.
    drift_days : float
        Days that a segment must last to tell it.
    """

    wrong: float
    span: float
    reads_a_day: float
    explained: float
    change: float
    change_at_step: float
    costs: Mapping[str, float]
    as_it_stands: float
    pause: float
    leap: float
    starts: tuple[float, ...]
    started: float
    hour_within: float
    hours_within: float
    days_within: float
    most_hours: float
    drift_most: float
    drift_sure: float
    drift_least: float
    drift_days: float


@dataclass(frozen=True, slots=True)
class Segment:
    """A time in which a clock was not touched.

    Attributes
    ----------
    first, last : int
        Places of its first and last read in the order of the memory.
    kind : str
        ``right``, ``hour``, ``hours``, ``half_hours``, ``days``, ``exchanged``, ``year``, ``reset`` or
        ``other``.
    offset : float
        By how many seconds the clock was ahead, as it is used: 0 where it stands.
    low, high : float
        Between what the offset lies, as far as the reads tell.
    sd : float
        Its standard deviation, in seconds; infinite where no read tells.
    since : float
        What the clock showed at the first read.
    drift, drift_sd : float
        Seconds that it gains in a second, 0 where none is sure, and its standard deviation.
    n : int
        Number of reads that it explains.
    exact : bool
        Whether times of day told.
    """

    first: int
    last: int
    kind: str
    offset: float
    low: float
    high: float
    sd: float
    since: float
    drift: float
    drift_sd: float
    n: int
    exact: bool


@dataclass(frozen=True, slots=True)
class Clock:
    """A clock over a season.

    Attributes
    ----------
    order : numpy.ndarray of int, shape (n,)
        Positions of the reads in the order of the memory.
    exchanged : bool
        Whether day and month of what is stored are exchanged.
    segments : tuple of Segment
    """

    order: Ints
    exchanged: bool
    segments: tuple[Segment, ...]

    @property
    def right(self) -> bool:
        """Whether what is stored stands."""
        return not self.exchanged and all(one.kind == "right" and not one.drift for one in self.segments)

    def segment_of(self) -> Ints:
        """Return the number of the segment of each read, shape (n,)."""
        found = np.zeros(len(self.order), dtype=np.int64)
        for k, one in enumerate(self.segments):
            found[self.order[one.first : one.last + 1]] = k
        return found

    def corrected(self, stored: Floats) -> Floats:
        """Return the true moments of the reads, in seconds, shape (n,)."""
        told = exchange_day_and_month(stored) if self.exchanged else stored
        true = told.copy()
        for one in self.segments:
            at = self.order[one.first : one.last + 1]
            true[at] -= one.offset + one.drift * (told[at] - one.since)
        return true


def true_moment(shown: Floats | float, shown_at: tuple[float, float], true_at: tuple[float, float]) -> Floats:
    """Return true moments from two points at which a clock was compared with a right one.

    Parameters
    ----------
    shown : float or numpy.ndarray
        What the clock showed.
    shown_at, true_at : (float, float)
        What it showed at both comparisons, and what was true.

    Examples
    --------
    A clock set on day 0 shows 12:01:18 at noon of day 30; on its day 12.5 it is 32.5 s ahead.

    >>> shown = 12.5 * DAY_S
    >>> float(round(shown - true_moment(shown, (0, 30 * DAY_S + 78), (0, 30 * DAY_S)), 1))
    32.5

    References
    ----------
    The straight line through two points.
    """
    (t0, t1), (r0, r1) = shown_at, true_at
    found: Floats = np.asarray(r0 + (np.asarray(shown, dtype=np.float64) - t0) * (r1 - r0) / (t1 - t0))
    return found


def exchange_day_and_month(stored: Floats) -> Floats:
    """Exchange day and month of moments (seconds since 1970) where the day may be a month.

    Examples
    --------
    >>> june = np.datetime64("2026-06-03T10:00", "s").astype(np.int64).astype(float)
    >>> exchange_day_and_month(np.array([june])).astype("datetime64[s]")
    array(['2026-03-06T10:00:00'], dtype='datetime64[s]')
    """
    day = np.floor(stored / DAY_S)
    dates = day.astype(np.int64).astype("datetime64[D]")
    months, years = dates.astype("datetime64[M]"), dates.astype("datetime64[Y]")
    month = (months - years.astype("datetime64[M]")).astype(np.int64)
    of_month = (dates - months.astype("datetime64[D]")).astype(np.int64)
    turned = (years.astype("datetime64[M]") + of_month).astype("datetime64[D]") + month
    may = of_month < 12  # noqa: PLR2004 - months of a year
    found: Floats = np.where(may, turned.astype(np.int64) * DAY_S + (stored - day * DAY_S), stored)
    return found


def find_clock(stored: Floats, known: Known, beliefs: ClockBeliefs) -> Clock:
    """Find the clock of a reader.

    Parameters
    ----------
    stored : numpy.ndarray, shape (n,)
        What the reader stored, in seconds since 1970, in the order of the download.
    known : Known
        True moments, by position in `stored`.
    beliefs : ClockBeliefs
        What is believed beforehand.

    Returns
    -------
    Clock
        The likeliest; as it stands unless the reads are likelier by more than another clock costs.

    References
    ----------
    Viterbi, A. J. (1967). Error bounds for convolutional codes. IEEE Trans. Inf. Theory 13, 260-269: the
    likeliest sequence of states, each change at a cost. Killick, R., Fearnhead, P. & Eckley, I. A. (2012).
    Optimal detection of changepoints with a linear computational cost. JASA 107, 1590-1598: change points by
    penalised likelihood. Mosteller, F. & Tukey, J. W. (1977). Data Analysis and Regression: the biweight.
    """
    plain, gain, short = _fit(stored, known, beliefs)
    clock = Clock(_memory_order(stored), exchanged=False, segments=plain)
    # another calendar cannot explain more than is left unexplained
    if short - gain > beliefs.costs["exchanged"]:
        turned = exchange_day_and_month(stored)
        if (turned != stored).any():
            segments, other, other_short = _fit(turned, known, beliefs)
            if (short - gain) - (other_short - other) > beliefs.costs["exchanged"]:
                return Clock(_memory_order(turned), exchanged=True, segments=segments)
    return clock


def _memory_order(stored: Floats) -> Ints:
    """Return positions as the reader stored them: of the download, unless that was sorted otherwise."""
    n = len(stored)
    steps = np.diff(stored)
    back, ahead = int((steps < 0).sum()), int((steps > 0).sum())
    if back > ahead and ahead <= max(n / len(_FEW), 2):
        # newest first
        return np.arange(n)[::-1].astype(np.int64)
    if back > max(n / len(_FEW), 2):
        return np.argsort(stored, kind="stable").astype(np.int64)
    return np.arange(n, dtype=np.int64)


#: A memory in which one step in as many goes back was sorted by something else.
_FEW = range(20)


def _fit(stored: Floats, known: Known, beliefs: ClockBeliefs) -> tuple[tuple[Segment, ...], float, float]:
    """Segments, what they gain over the clock as it stands, and how much that lacks of the best possible."""
    n = len(stored)
    order = _memory_order(stored)
    if n == 0:
        return (), 0.0, 0.0
    paired = np.zeros(n, dtype=bool)
    paired[known.read] = True
    weight = _weights(stored, paired, beliefs)
    ground = beliefs.wrong / beliefs.span
    best = np.log(_by_read(known, known.weight / (known.high - known.low + 2 * known.spread), n) + ground)
    as_is = _log_density(stored, known, ground, 0.0)
    short = float((weight * (best - as_is)).sum())
    cheapest = min(cost for kind, cost in beliefs.costs.items() if kind != "right")
    if short <= cheapest:
        return _alone(stored, order, known, as_is, best, beliefs), 0.0, short
    offsets = _candidates(stored, known, weight, best, as_is, ground, beliefs)
    if not offsets:
        return _alone(stored, order, known, as_is, best, beliefs), 0.0, short
    states = np.array([0.0, *offsets])
    log = np.vstack([as_is, *(_log_density(stored, known, ground, at) for at in offsets)]).T
    costs = np.array([0.0, *(_cost(at, beliefs) for at in offsets)])
    path, gain = _likeliest(stored, order, paired, weight[:, None] * log, costs, beliefs)
    segments = []
    for first, last in _runs(path):
        at = order[first : last + 1]
        state = int(path[first])
        fits = paired[at] & (best[at] - log[at, state] < beliefs.explained)
        segments.append(_refined(stored, known, at, fits, float(states[state]), (first, last), beliefs))
    return tuple(_side_by_side(stored, order, segments, beliefs)), gain, short


def _side_by_side(
    stored: Floats, order: Ints, segments: list[Segment], beliefs: ClockBeliefs
) -> list[Segment]:
    """Narrow offsets that days alone told: on a day that two segments share, one comes after the other."""
    parts = [stored[order[one.first : one.last + 1]] for one in segments]
    true = [part - one.offset for part, one in zip(parts, segments, strict=True)]
    found = list(segments)
    for k, one in enumerate(segments):
        first, last = np.floor(true[k].min() / DAY_S), np.floor(true[k].max() / DAY_S)
        if one.exact or not one.offset or first == last:
            continue
        others = np.concatenate([part for j, part in enumerate(true) if j != k] or [np.empty(0)])
        on = np.floor(others / DAY_S)
        low, high = one.low, one.high
        if (on == first).any():
            high = min(high, float(parts[k].min() - others[on == first].max()) - _MINUTE_S)
        if (on == last).any():
            low = max(low, float(parts[k].max() - others[on == last].min()) + _MINUTE_S)
        if low < high and not low <= one.offset <= high:
            found[k] = replace(one, low=low, high=high, offset=_chosen(low, high, beliefs))
    return found


def _alone(
    stored: Floats, order: Ints, known: Known, as_is: Floats, best: Floats, beliefs: ClockBeliefs
) -> tuple[Segment, ...]:
    paired = np.zeros(len(stored), dtype=bool)
    paired[known.read] = True
    fits = paired[order] & (best[order] - as_is[order] < beliefs.explained)
    return (_refined(stored, known, order, fits, 0.0, (0, len(stored) - 1), beliefs),)


def _weights(stored: Floats, paired: Flags, beliefs: ClockBeliefs) -> Floats:
    """Let all reads of a day count for no more than a few: a page under a wrong date is one slip."""
    day = np.floor(stored / DAY_S).astype(np.int64)
    _, of_day = np.unique(day, return_inverse=True)
    count = np.bincount(of_day, weights=paired)[of_day]
    return np.where(paired, np.minimum(1.0, beliefs.reads_a_day / np.maximum(count, 1)), 0.0)


def _by_read(known: Known, values: Floats, n: int) -> Floats:
    """Largest value of each read."""
    found = np.zeros(n)
    np.maximum.at(found, known.read, values)
    return found


def _log_density(stored: Floats, known: Known, ground: float, offset: float) -> Floats:
    """Log density of each read, shape (n,), were the clock ahead by an offset."""
    true = stored[known.read] - offset
    away = np.maximum(np.maximum(known.low - true, true - known.high), 0.0)
    height = known.weight / (known.high - known.low + 2 * known.spread)
    # nobody asks how unlikely what is far off is
    near = height * np.exp(-np.minimum(away / known.spread, 700.0))
    found: Floats = np.log(np.bincount(known.read, weights=near, minlength=len(stored)) + ground)
    return found


def _candidates(
    stored: Floats,
    known: Known,
    weight: Floats,
    best: Floats,
    as_is: Floats,
    ground: float,
    beliefs: ClockBeliefs,
) -> list[float]:
    """Offsets that explain many reads which none before explains."""
    # a time of day tells more than its day
    timed = np.zeros(len(stored), dtype=bool)
    timed[known.read[known.exact]] = True
    told = known.exact | ~timed[known.read]
    read = known.read[told]
    pad = np.where(known.exact[told], known.spread[told], 0.0)
    low = stored[read] - known.high[told] - pad
    high = stored[read] - known.low[told] + pad
    edges = np.concatenate([low, high])
    by_edge = np.argsort(edges, kind="stable")
    sign = np.concatenate([np.ones(len(low)), -np.ones(len(high))])
    open_ = best - as_is >= beliefs.explained
    found: list[float] = []
    for _ in range(_TURNS):
        mass = np.where(open_, weight, 0.0)[read]
        if mass.sum() <= 0:
            break
        cover = np.cumsum((np.concatenate([mass, mass]) * sign)[by_edge])
        peak = int(np.argmax(cover[:-1]))
        if cover[peak] <= 1:
            break
        offset = _chosen(float(edges[by_edge[peak]]), float(edges[by_edge[peak + 1]]), beliefs)
        now = best - _log_density(stored, known, ground, offset) < beliefs.explained
        if not (open_ & now).any():
            break
        open_ &= ~now
        if abs(offset) >= beliefs.as_it_stands:
            found.append(offset)
    return found


def _chosen(low: float, high: float, beliefs: ClockBeliefs) -> float:
    """Return the most usual offset of a range: an hour, whole days, other hours; else its middle."""
    middle = (low + high) / 2
    if high - low < HOUR_S:
        return middle
    for usual in (HOUR_S, -HOUR_S):
        if low <= usual <= high:
            return usual
    for unit, most in ((DAY_S, np.inf), (HOUR_S, beliefs.most_hours)):
        least = np.ceil(low / unit) * unit if low > 0 else np.floor(high / unit) * unit
        if low <= least <= high and 0 < abs(least) <= most:
            return float(least)
    return middle


def _kind(offset: float, beliefs: ClockBeliefs, slack: float = 0.0) -> tuple[str, float]:
    """Name an offset, and say what it is exactly if it is what its name says."""
    if abs(offset) < beliefs.as_it_stands:
        return "right", 0.0
    if abs(abs(offset) - HOUR_S) <= beliefs.hour_within + slack:
        return "hour", float(np.sign(offset)) * HOUR_S
    whole = round(offset / DAY_S) * DAY_S
    if whole and abs(offset - whole) <= beliefs.days_within + slack:
        return "days", whole
    if abs(offset) <= beliefs.most_hours:
        for name, unit in (("hours", HOUR_S), ("half_hours", HOUR_S / 2)):
            whole = round(offset / unit) * unit
            if abs(offset - whole) <= beliefs.hours_within + slack:
                return name, whole
    return "other", offset


def _cost(offset: float, beliefs: ClockBeliefs) -> float:
    return float(beliefs.costs[_kind(offset, beliefs)[0]])


def _likeliest(
    stored: Floats, order: Ints, paired: Flags, log: Floats, costs: Floats, beliefs: ClockBeliefs
) -> tuple[Ints, float]:
    """State of each place of the memory, and the gain over the first state throughout."""
    steps = np.diff(stored[order])
    odd = (steps < 0) | (steps > beliefs.leap)
    # between the reads of one visit nobody sets a clock
    begins = np.flatnonzero(np.concatenate([[True], odd | (steps > beliefs.pause)]))
    log = log[order]
    told = np.add.reduceat(log, begins, axis=0)
    price = np.where(np.concatenate([[True], odd])[begins], beliefs.change_at_step, beliefs.change)
    value = told[0] - costs
    came = np.zeros((len(begins), len(costs)), dtype=np.int64)
    stay = np.arange(len(costs))
    for k in range(1, len(begins)):
        from_ = int(np.argmax(value))
        moved = value[from_] - price[k] - costs
        stays = value >= moved
        came[k] = np.where(stays, stay, from_)
        value = np.maximum(value, moved) + told[k]
    state = int(np.argmax(value))
    gain = float(value[state] - told[:, 0].sum())
    by_visit = np.zeros(len(begins), dtype=np.int64)
    for k in range(len(begins) - 1, -1, -1):
        by_visit[k] = state
        state = int(came[k, state])
    path = np.repeat(by_visit, np.diff(np.append(begins, len(order))))
    return _at_steps(path, odd, paired[order]), gain


def _at_steps(path: Ints, odd: Flags, paired: Flags) -> Ints:
    """Let a change between two reads that tell fall on the step at which the memory goes back or leaps."""
    path = path.copy()
    for k in np.flatnonzero(np.diff(path)):
        before = np.flatnonzero(paired[: k + 1])
        after = np.flatnonzero(paired[k + 1 :])
        low = int(before[-1]) if len(before) else 0
        high = int(after[0]) + k + 1 if len(after) else len(path) - 1
        at = np.flatnonzero(odd[low:high])
        if len(at) and not odd[k]:
            was, becomes, new = path[k], path[k + 1], low + int(at[0])
            path[low : new + 1] = was
            path[new + 1 : high] = becomes
    return path


def _runs(path: Ints) -> list[tuple[int, int]]:
    ends = np.flatnonzero(np.diff(path))
    return list(zip([0, *(ends + 1).tolist()], [*ends.tolist(), len(path) - 1], strict=True))


def _refined(
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
        kind, used = _kind(middle, beliefs)
        drift, drift_sd, begun = _drift(moments - since, off, wide, beliefs)
        if drift:
            # the offset as it was at the first read
            kind, used = _kind(begun, beliefs)
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
        used = _chosen(low, high, beliefs)
        made = replace(
            made, kind=_kind(used, beliefs)[0], offset=used, low=low, high=high, sd=(high - low) / np.sqrt(12)
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

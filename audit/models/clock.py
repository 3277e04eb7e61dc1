"""The clock of a reader, found from moments that are known otherwise: set wrong, reset, or running fast.

A clock that was never touched is a straight line: what it shows is the true moment, plus how far it was off
when it was set, plus its drift. Whoever sets it, or lets its battery run flat, begins another line. Here the
lines are found from reads whose true moment is known to a minute, or only to a day, some of them wrongly.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from audit.models.clock_calendar import DAY_S, exchange_day_and_month
from audit.models.clock_lines import refined
from audit.models.clock_offsets import cost_of, usual_offset
from audit.models.clock_path import likeliest, runs
from audit.models.clock_segments import Clock, Segment

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.clock_beliefs import ClockBeliefs, Known

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["find_clock"]

_MINUTE_S = 60.0
_TURNS = 10
#: A memory in which one step in as many goes back was sorted by something else.
_FEW = range(20)


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
    costs = np.array([0.0, *(cost_of(at, beliefs) for at in offsets)])
    path, gain = likeliest(stored, order, paired, weight[:, None] * log, costs, beliefs)
    segments = []
    for first, last in runs(path):
        at = order[first : last + 1]
        state = int(path[first])
        fits = paired[at] & (best[at] - log[at, state] < beliefs.explained)
        segments.append(refined(stored, known, at, fits, float(states[state]), (first, last), beliefs))
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
            found[k] = replace(one, low=low, high=high, offset=usual_offset(low, high, beliefs))
    return found


def _alone(
    stored: Floats, order: Ints, known: Known, as_is: Floats, best: Floats, beliefs: ClockBeliefs
) -> tuple[Segment, ...]:
    paired = np.zeros(len(stored), dtype=bool)
    paired[known.read] = True
    fits = paired[order] & (best[order] - as_is[order] < beliefs.explained)
    return (refined(stored, known, order, fits, 0.0, (0, len(stored) - 1), beliefs),)


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
        offset = usual_offset(float(edges[by_edge[peak]]), float(edges[by_edge[peak + 1]]), beliefs)
        now = best - _log_density(stored, known, ground, offset) < beliefs.explained
        if not (open_ & now).any():
            break
        open_ &= ~now
        if abs(offset) >= beliefs.as_it_stands:
            found.append(offset)
    return found

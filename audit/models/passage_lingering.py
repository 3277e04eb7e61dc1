"""Forward and backward over groups of reads of which several in a row may be one bird that lingers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.passage_chain import forward_backward, product
from audit.models.passage_runs import RunBeliefs

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_runs import Lingering, Runs

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Ahead = list[tuple[Floats, Floats, Floats, Floats]]

__all__ = ["weigh_runs"]

_TINY = 1e-300


def weigh_runs(
    gaps: Floats,
    events: Floats,
    linger: Lingering,
    runs: Runs,
    fresh: Flags,
    first: Floats,
    *,
    following: bool = True,
) -> RunBeliefs:
    """Weigh the states of chains in which birds may linger over several groups.

    Parameters
    ----------
    gaps, events, fresh, first, following
        As in `forward_backward`.
    linger : Lingering
    runs : Runs

    Notes
    -----
    A run is one link of a chain of two states; what its groups add up to is summed over all ways in which the
    bird may have lingered, or not, within it.
    """
    n = events.shape[2]
    begun, lanes = runs.start, runs.lanes
    links: Floats = np.take(events, begun, axis=2)
    logs = np.zeros(n)
    of_lanes = np.take(gaps, lanes, axis=2), np.take(events, lanes, axis=2)
    ahead = _forward(*of_lanes, linger, runs, links, logs)
    outer = forward_backward(
        np.take(gaps, begun, axis=2), links, fresh[begun], np.take(first, begun, axis=1), following=following
    )
    behind = _scaled_behind(outer.behind, logs, runs, fresh) if following else outer.behind
    predicted = logs
    predicted[begun] += outer.predicted
    # what stands at later groups of a run is told below
    found = RunBeliefs(
        np.take(outer.before, runs.run, axis=2),
        np.take(outer.within, runs.run, axis=2),
        np.zeros_like(linger.begun),
        np.zeros_like(linger.begun),
        np.zeros_like(linger.across),
        np.zeros_like(linger.begun),
        predicted,
        np.take(behind, runs.run, axis=1) if following else behind,
    )
    whole = np.take(outer.arrived, runs.many, axis=1), np.take(outer.left, runs.many, axis=1)
    _inside(of_lanes, linger, runs, whole, ahead, found)
    if following:
        _behind(of_lanes, linger, runs, found.behind)
    return found


def _forward(
    gaps: Floats, events: Floats, linger: Lingering, runs: Runs, links: Floats, logs: Floats
) -> Ahead:
    """Fill in what runs of several groups add up to; give what led to each group, by the state at first."""
    kept: Ahead = []
    kinds, ends = len(linger.ends), linger.ends
    state: Floats = np.empty(0)
    open_: Floats = np.empty(0)
    for j, here in enumerate(runs.steps):
        m = here.stop - here.start
        event, begun = events[:, :, here], linger.begun[:, :, here]
        if j == 0:
            # the state in front of the run is the state at first
            old = there = np.broadcast_to(np.eye(2)[:, :, None], (2, 2, m))
            old_open = np.broadcast_to(0.0, (2, 2, kinds, m))
            now = event.copy()
            opened = np.zeros((2, 2, kinds, m))
            opened[0, 0], opened[1, 1] = begun
        else:
            old, old_open = state[:, :, :m], open_[..., :m]
            there = product(old, gaps[:, :, here])
            waited = old_open * linger.across[:, here]
            goes_on = waited * linger.seen[:, :, here]
            now = product(there, event)
            now += _summed(goes_on * ends)
            now[:, ::-1] += _summed(waited * linger.crosses) * linger.passes[:, here]
            opened = there[:, :, None] * begun
            opened += goes_on * linger.goes_on
        size = np.maximum(now.sum(axis=(0, 1)) + opened.sum(axis=(0, 1, 2)), _TINY)
        logs[runs.lanes[here]] = np.log(size)
        kept.append((old, old_open, there, size))
        state, open_ = now / size, opened / size
        ending = slice(_width(runs, j + 1), m)
        links[:, :, runs.many[ending]] = state[:, :, ending]
    return kept


def _summed(ways: Floats) -> Floats:
    """Sum over ways to linger, which are the last axis but one."""
    found: Floats = ways.sum(axis=-2)
    return found


def _width(runs: Runs, j: int) -> int:
    """How many runs have more than `j` groups."""
    return runs.steps[j].stop - runs.steps[j].start if j < len(runs.steps) else 0


def _inside(
    of_lanes: tuple[Floats, Floats],
    linger: Lingering,
    runs: Runs,
    whole: tuple[Floats, Floats],
    ahead: Ahead,
    found: RunBeliefs,
) -> None:
    """Share what is believed of runs among their groups."""
    gaps, events = of_lanes
    arrived, left = whole
    kinds, ends = len(linger.ends), linger.ends
    rest: Floats = np.empty((2, 0))
    rest_open: Floats = np.empty((2, kinds, 0))
    for j in range(len(runs.steps) - 1, -1, -1):
        here = runs.steps[j]
        at = runs.lanes[here]
        m, longer = len(at), rest.shape[1]
        after = left[:, :m].copy()
        after[:, :longer] = rest
        after_open = np.zeros((2, kinds, m))
        after_open[..., :longer] = rest_open
        old, old_open, there, size = ahead[j]
        came = arrived[:, :m]
        after /= size
        after_open /= size
        now = came if j == 0 else came[0] * there[0] + came[1] * there[1]
        event = events[:, :, here] * after
        found.within[:, :, at] = now[:, None] * event
        begun = linger.begun[:, :, here] * after_open
        begins = now[:, None] * begun
        found.begins[:, :, here] = begins
        if j == 0:
            found.lingers[:, :, here] = begins
            continue
        back = event.sum(axis=1) + begun.sum(axis=1)
        waited = linger.across[:, here]
        on = waited * linger.seen[:, :, here] * (after[:, None] * ends + after_open * linger.goes_on)
        over = waited * linger.crosses * (linger.passes[:, here] * after[::-1])[:, None]
        lingered = came[0] * old_open[0] + came[1] * old_open[1]
        across, crosses = lingered * on, lingered * over
        found.across[:, here] = (across + crosses).sum(axis=0)
        found.lingers[:, :, here] = begins + across
        found.crosses[:, :, here] = crosses
        gap = gaps[:, :, here] * back
        found.before[:, :, at] = (came[0] * old[0] + came[1] * old[1])[:, None] * gap
        rest, rest_open = gap.sum(axis=1), on + over


def _scaled_behind(behind: Floats, logs: Floats, runs: Runs, fresh: Flags) -> Floats:
    """Add what later runs were divided by, which is not in the chain of runs."""
    scaled = np.add.reduceat(logs, runs.start) if len(logs) else logs
    later = np.append(np.cumsum(scaled[::-1])[::-1][1:], 0.0)
    begun = np.flatnonzero(fresh[runs.start])
    long = np.diff(begun, append=len(later))
    found: Floats = behind + (later - np.repeat(later[begun + long - 1], long))
    return found


def _behind(of_lanes: tuple[Floats, Floats], linger: Lingering, runs: Runs, behind: Floats) -> None:
    """Logarithm of the likelihood of all that follows each group, by the state behind it."""
    gaps, events = of_lanes
    ends = linger.ends
    rest: Floats = np.empty((2, 0))
    rest_open: Floats = np.empty((2, len(linger.ends), 0))
    top: Floats = np.empty(0)
    for j in range(len(runs.steps) - 1, -1, -1):
        here = runs.steps[j]
        at, longer = runs.lanes[here], rest.shape[1]
        # what follows the run stands at each of its groups so far
        ending = behind[:, at[longer:]]
        most = ending.max(axis=0)
        rest = np.concatenate([rest, np.exp(ending - most)], axis=1)
        rest_open = np.concatenate([rest_open, np.zeros((*rest_open.shape[:2], len(at) - longer))], axis=2)
        top = np.concatenate([top, most])
        with np.errstate(divide="ignore"):
            behind[:, at] = np.log(rest) + top
        if j:
            back = (events[:, :, here] * rest).sum(axis=1) + (linger.begun[:, :, here] * rest_open).sum(
                axis=1
            )
            on = linger.seen[:, :, here] * (rest[:, None] * ends + rest_open * linger.goes_on)
            over = linger.crosses * (linger.passes[:, here] * rest[::-1])[:, None]
            rest_open = linger.across[:, here] * (on + over)
            rest = (gaps[:, :, here] * back).sum(axis=1)
            size = np.maximum(rest.sum(axis=0) + rest_open.sum(axis=(0, 1)), _TINY)
            rest, rest_open, top = rest / size, rest_open / size, top + np.log(size)

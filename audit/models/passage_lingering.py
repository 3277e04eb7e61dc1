"""Forward and backward over groups of reads of which several in a row may be one bird that lingers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.passage_chain import forward_backward
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
    gaps: Floats, events: Floats, linger: Lingering, runs: Runs, fresh: Flags, first: Floats
) -> RunBeliefs:
    """Weigh the states of chains in which birds may linger over several groups.

    Parameters
    ----------
    gaps, events, fresh, first
        As in `forward_backward`.
    linger : Lingering
    runs : Runs

    Notes
    -----
    A run is one link of a chain of two states; what its groups add up to is summed over all ways in which the
    bird may have lingered, or not, within it.
    """
    n = events.shape[2]
    links: Floats = events[:, :, runs.start]
    logs = np.zeros(n)
    ahead = _forward(gaps, events, linger, runs, links, logs)
    begun = runs.start
    outer = forward_backward(gaps[:, :, begun], links, fresh[begun], first[:, begun])
    # what runs were divided by is not in the chain of runs
    scaled = np.add.reduceat(logs, begun) if n else logs
    later = np.append(np.cumsum(scaled[::-1])[::-1][1:], 0.0)
    ends = np.append(np.flatnonzero(fresh[begun])[1:], len(begun)) - 1
    behind = outer.behind + later - later[ends][np.cumsum(fresh[begun]) - 1]
    predicted = logs
    predicted[begun] += outer.predicted
    before, within = np.zeros((2, 2, n)), np.zeros((2, 2, n))
    before[:, :, begun], within[:, :, begun] = outer.before, outer.within
    lingers, begins, across = (
        np.zeros_like(linger.begun),
        np.zeros_like(linger.begun),
        np.zeros_like(linger.across),
    )
    crosses = np.zeros_like(linger.begun)
    found = RunBeliefs(before, within, lingers, begins, across, crosses, predicted, np.empty((2, n)))
    _inside(gaps, events, linger, runs, (links, outer.within, ahead), found)
    _behind(gaps, events, linger, runs, behind, found)
    return found


def _forward(
    gaps: Floats, events: Floats, linger: Lingering, runs: Runs, links: Floats, logs: Floats
) -> Ahead:
    """Fill in what runs of several groups add up to; give what led to each group, by the state at first."""
    kept: Ahead = []
    kinds = len(linger.ends)
    ends = linger.ends
    state: Floats = np.empty(0)
    open_: Floats = np.empty(0)
    for j, here in enumerate(runs.steps):
        m = len(here)
        if j == 0:
            there = np.zeros((2, 2, m))
            there[0, 0] = there[1, 1] = 1.0
            goes_on = np.zeros((2, 2, kinds, m))
            old, old_open = there, goes_on
        else:
            old, old_open = state[:, :, :m], open_[..., :m]
            there = np.einsum("xam,abm->xbm", old, gaps[:, :, here])
            waited = old_open * linger.across[:, here]
            goes_on = waited * linger.seen[:, :, here]
        now = np.einsum("xam,abm->xbm", there, events[:, :, here]) + (goes_on * ends).sum(axis=2)
        if j:
            now[:, ::-1] += (waited * linger.crosses).sum(axis=2) * linger.passes[:, here]
        opened = there[:, :, None] * linger.begun[:, :, here] + goes_on * linger.goes_on
        size = np.maximum(now.sum(axis=(0, 1)) + opened.sum(axis=(0, 1, 2)), _TINY)
        logs[here] += np.log(size)
        kept.append((old, old_open, there, size))
        state, open_ = now / size, opened / size
        ending = slice(len(runs.steps[j + 1]) if j + 1 < len(runs.steps) else 0, m)
        links[:, :, runs.many[ending]] = state[:, :, ending]
    return kept


def _inside(
    gaps: Floats,
    events: Floats,
    linger: Lingering,
    runs: Runs,
    whole: tuple[Floats, Floats, Ahead],
    found: RunBeliefs,
) -> None:
    """Share what is believed of runs among their groups."""
    links, within, ahead = whole
    weight = within[:, :, runs.many] / np.maximum(links[:, :, runs.many], _TINY)
    kinds = len(linger.ends)
    ends = linger.ends
    rest: Floats = np.empty((2, 2, 0))
    rest_open: Floats = np.empty((2, 2, kinds, 0))
    for j in range(len(runs.steps) - 1, -1, -1):
        here = runs.steps[j]
        m, longer = len(here), rest.shape[2]
        after = weight[:, :, :m].copy()
        after[:, :, :longer] = rest
        after_open = np.zeros((2, 2, kinds, m))
        after_open[..., :longer] = rest_open
        old, old_open, there, size = ahead[j]
        after /= size
        after_open /= size
        event = events[:, :, here]
        found.within[:, :, here] = np.einsum("xam,abm,xbm->abm", there, event, after)
        begun = linger.begun[:, :, here] * after_open
        begins = (there[:, :, None] * begun).sum(axis=0)
        found.begins[:, :, here] = begins
        back = np.einsum("abm,xbm->xam", event, after) + begun.sum(axis=2)
        if j == 0:
            found.lingers[:, :, here] = begins
        else:
            waited = linger.across[:, here]
            on = waited * linger.seen[:, :, here] * (after[:, :, None] * ends + after_open * linger.goes_on)
            over = waited * linger.crosses * (linger.passes[:, here] * after[:, ::-1])[:, :, None]
            across, crosses = (old_open * on).sum(axis=0), (old_open * over).sum(axis=0)
            found.across[:, here] = (across + crosses).sum(axis=0)
            found.lingers[:, :, here] = begins + across
            found.crosses[:, :, here] = crosses
            on += over
            found.before[:, :, here] = np.einsum("xam,abm,xbm->abm", old, gaps[:, :, here], back)
            rest = np.einsum("abm,xbm->xam", gaps[:, :, here], back)
            rest_open = on


def _behind(
    gaps: Floats,
    events: Floats,
    linger: Lingering,
    runs: Runs,
    behind: Floats,
    found: RunBeliefs,
) -> None:
    """Logarithm of the likelihood of all that follows each group, by the state behind it."""
    found.behind[:] = behind[:, runs.run]
    ends = linger.ends
    rest: Floats = np.empty((2, 0))
    rest_open: Floats = np.empty((2, len(linger.ends), 0))
    top: Floats = np.empty(0)
    for j in range(len(runs.steps) - 1, -1, -1):
        here = runs.steps[j]
        longer = rest.shape[1]
        ending = behind[:, runs.run[here[longer:]]]
        most = ending.max(axis=0)
        rest = np.concatenate([rest, np.exp(ending - most)], axis=1)
        rest_open = np.concatenate([rest_open, np.zeros((*rest_open.shape[:2], len(here) - longer))], axis=2)
        top = np.concatenate([top, most])
        with np.errstate(divide="ignore"):
            found.behind[:, here] = np.log(rest) + top
        if j:
            event = events[:, :, here]
            back = np.einsum("abm,bm->am", event, rest) + (linger.begun[:, :, here] * rest_open).sum(axis=1)
            on = linger.seen[:, :, here] * (rest[:, None] * ends + rest_open * linger.goes_on)
            over = linger.crosses * (linger.passes[:, here] * rest[::-1])[:, None]
            rest_open = linger.across[:, here] * (on + over)
            rest = np.einsum("abm,bm->am", gaps[:, :, here], back)
            size = np.maximum(rest.sum(axis=0) + rest_open.sum(axis=(0, 1)), _TINY)
            rest, rest_open, top = rest / size, rest_open / size, top + np.log(size)

"""Nestlings that have not flown yet: whatever is heard of them, they do not pass."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.passage_events import LINGER, LOOK, PASSAGE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_chains import Chains
    from audit.models.passage_runs import Lingering, RunBeliefs, Runs

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

_TINY = 1e-300

__all__ = ["not_yet_flown"]


def not_yet_flown(
    chains: Chains,
    nest: tuple[Floats, Floats],
    table: Floats,
    scales: tuple[Floats, Floats],
    beliefs: RunBeliefs,
    linger: Lingering,
    flight: float,
) -> Flags:
    """Tell groups of birds that have not flown yet.

    Parameters
    ----------
    chains : Chains
        Groups.
    nest : (numpy.ndarray, numpy.ndarray)
        Shares of looks, rests and ways to linger of such birds, shape (4,), and density of their waits, shape
        (bins,).
    table : numpy.ndarray, shape (2, 5, sights)
        Likelihoods of sights.
    scales : (numpy.ndarray, numpy.ndarray)
        What events and gaps were divided by before they were weighed, shape (n,).
    beliefs : Beliefs
        Of birds that may pass at any time.
    linger : Lingering
        Weights of birds that linger.
    flight : float
        Chance that a bird that has never flown does so at its next group.

    Returns
    -------
    numpy.ndarray of bool, shape (n,)

    Notes
    -----
    A bird that begins in the nest looks out and rests until it passes out for the first time, or for ever.
    The likeliest first flight stands where it is likelier than never to have been bound to the nest.
    """
    shares, wait = nest
    n = len(chains.bird)
    start = np.flatnonzero(chains.groups.fresh)
    end = np.append(start[1:], n)
    scale, whole = scales
    seen = table[1][:, chains.sights] / scale
    waited = np.where(chains.groups.fresh, 1.0, wait[chains.bins] / whole)
    stays = (1 - flight) * np.tensordot(shares[: LINGER - LOOK], seen[LOOK:LINGER], 1)
    before, total = _in_nest(
        waited, stays, (1 - flight) * shares[LINGER - LOOK :, None] * seen[LINGER:], linger, chains.runs
    )
    with np.errstate(divide="ignore"):
        flown = before + np.log(flight * seen[PASSAGE])
    # over the runs of each bird
    birds = chains.bird[chains.runs.start]
    whole_runs = np.cumsum(total)
    past = whole_runs - total
    first_run = np.flatnonzero(chains.groups.fresh[chains.runs.start])
    past -= past[first_run][birds]
    by_flight = past[chains.runs.run] + flown + beliefs.behind[0]
    never = (past + total)[np.append(first_run[1:], len(birds)) - 1]
    free = np.add.reduceat(beliefs.predicted, start)
    best = np.maximum(np.maximum.reduceat(by_flight, start), never)
    place = np.where(by_flight >= best[chains.bird], np.arange(n), n)
    first = np.minimum(np.minimum.reduceat(place, start), end)
    first = np.where(best > free, first, start)
    found: Flags = np.arange(n) < first[chains.bird]
    return found


def _in_nest(
    waited: Floats, stays: Floats, begun: Floats, linger: Lingering, runs: Runs
) -> tuple[Floats, Floats]:
    """Logarithms of what led to each group within its run, shape (n,), and of whole runs, shape (r,)."""
    with np.errstate(divide="ignore"):
        before, after = np.log(waited), np.log(waited * stays)
    total = after[runs.start]
    near: Floats = np.empty(0)
    open_: Floats = np.empty(0)
    top: Floats = np.empty(0)
    for j, here in enumerate(runs.steps):
        m = len(here)
        if j == 0:
            there, gone, top = waited[here], np.zeros((len(linger.ends), m)), np.zeros(m)
            across = gone
        else:
            there, top = near[:m] * waited[here], top[:m]
            across = open_[:, :m] * linger.across[:, here]
            gone = across * linger.seen[1][:, here]
        with np.errstate(divide="ignore"):
            before[here] = np.log(there + (across * linger.crosses).sum(axis=0)) + top
        near = there * stays[here] + (gone * linger.ends).sum(axis=0)
        open_ = there * begun[:, here] + gone * linger.goes_on
        with np.errstate(divide="ignore"):
            ending = slice(len(runs.steps[j + 1]) if j + 1 < len(runs.steps) else 0, m)
            total[runs.many[ending]] = (np.log(near) + top)[ending]
            size = np.maximum(near + open_.sum(axis=0), _TINY)
            near, open_, top = near / size, open_ / size, top + np.log(size)
    return before, total

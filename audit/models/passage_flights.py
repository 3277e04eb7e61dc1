"""Nestlings that have not flown yet: whatever is heard of them, they do not pass."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.passage_manners import LINGER, LOOK, PASSAGE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_alike import Looks, Pauses
    from audit.models.passage_chains import Chains
    from audit.models.passage_habits import Habits
    from audit.models.passage_limits import Limits
    from audit.models.passage_runs import Lingering, RunBeliefs, Runs

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

_TINY = 1e-300

__all__ = ["not_yet_flown"]


def not_yet_flown(
    chains: Chains,
    habits: Habits,
    kinds: tuple[Looks, Pauses],
    beliefs: RunBeliefs,
    linger: Lingering,
    limits: Limits,
) -> Flags:
    """Tell groups of birds that have not flown yet.

    Parameters
    ----------
    chains : Chains
        Groups.
    habits : Habits
    kinds : tuple of Looks and Pauses
        With no bird bound so far.
    beliefs : RunBeliefs
        Of birds that may pass at any time.
    linger : Lingering
        Weights of birds that linger.
    limits : Limits
        `first_flight` is the chance that a bird that has never flown does so at its next group, and
        `nest_turns` the share of looks before that read as a way out.

    Returns
    -------
    numpy.ndarray of bool, shape (n,)

    Notes
    -----
    A bird that begins in the nest looks out and rests until it passes out for the first time, or for ever.
    The likeliest first flight stands where it is likelier than never to have been bound to the nest. Where a
    logger stores a tag again only after a while, a short look out shows no return: it reads as a way out.
    """
    looks, pauses = kinds
    flight, turns = limits.first_flight, limits.nest_turns
    shares, wait = habits.nest_shares, habits.nest_wait
    n = len(chains.bird)
    start = np.flatnonzero(chains.groups.fresh)
    end = np.append(start[1:], n)
    seen = looks.plain[1]
    stayed = seen[LOOK:LINGER].copy()
    stayed[0] += turns * (seen[PASSAGE] - seen[LOOK])
    stays = (1 - flight) * np.tensordot(shares[: LINGER - LOOK], stayed, 1)
    begun = (1 - flight) * shares[LINGER - LOOK :, None] * seen[LINGER:]
    with np.errstate(divide="ignore"):
        waited = np.log(wait[pauses.bins] / pauses.whole)[pauses.row]
        passes, stays = np.log(flight * seen[PASSAGE]), np.log(stays)
    waited[start] = 0.0
    row = looks.row
    before, total = _in_nest(
        waited, stays[row], np.take(begun, row[chains.runs.lanes], axis=1), linger, chains.runs
    )
    flown = before + passes[row]
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
    """Logarithms of what led to each group within its run, shape (n,), and of whole runs, shape (r,).

    `waited` and `stays` are logarithms, shape (n,); `begun` are chances, shape (k, l).
    """
    before, total = waited.copy(), (waited + stays)[runs.start]
    near: Floats = np.empty(0)
    open_: Floats = np.empty(0)
    top: Floats = np.empty(0)
    for j, here in enumerate(runs.steps):
        at = runs.lanes[here]
        m = len(at)
        if j == 0:
            there, top = np.exp(waited[at]), np.zeros(m)
            across = gone = np.zeros((len(linger.ends), m))
        else:
            there, top = near[:m] * np.exp(waited[at]), top[:m]
            across = open_[:, :m] * linger.across[:, here]
            gone = across * linger.seen[1][:, here]
        with np.errstate(divide="ignore"):
            before[at] = np.log(there + (across * linger.crosses).sum(axis=0)) + top
        near = there * np.exp(stays[at]) + (gone * linger.ends).sum(axis=0)
        open_ = there * begun[:, here] + gone * linger.goes_on
        with np.errstate(divide="ignore"):
            ending = slice(runs.steps[j + 1].stop - here.stop if j + 1 < len(runs.steps) else 0, m)
            total[runs.many[ending]] = (np.log(near) + top)[ending]
            size = np.maximum(near + open_.sum(axis=0), _TINY)
            near, open_, top = near / size, open_ / size, top + np.log(size)
    return before, total

"""Nestlings that have not flown yet: whatever is heard of them, they do not pass."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.passage_events import LOOK, PASSAGE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_chain import Beliefs
    from audit.models.passage_chains import Chains

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

__all__ = ["not_yet_flown"]


def not_yet_flown(
    chains: Chains,
    nest: tuple[Floats, Floats],
    table: Floats,
    scales: tuple[Floats, Floats],
    beliefs: Beliefs,
    flight: float,
) -> Flags:
    """Tell groups of birds that have not flown yet.

    Parameters
    ----------
    chains : Chains
        Groups.
    nest : (numpy.ndarray, numpy.ndarray)
        Shares of looks and rests of such birds, shape (2,), and density of their waits, shape (bins,).
    table : numpy.ndarray, shape (2, 3, sights)
        Likelihoods of sights.
    scales : (numpy.ndarray, numpy.ndarray)
        What events and gaps were divided by before they were weighed, shape (n,).
    beliefs : Beliefs
        Of birds that may pass at any time.
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
    with np.errstate(divide="ignore"):
        waited = np.where(chains.groups.fresh, 0.0, np.log(wait[chains.bins]) - np.log(whole))
        stays = np.tensordot(shares, table[1, LOOK:, chains.sights].T, 1)
        stayed = waited + np.log((1 - flight) * stays / scale)
        flown = waited + np.log(flight * table[1, PASSAGE, chains.sights] / scale)
    total = np.cumsum(stayed)
    before = total - stayed
    before -= before[start][chains.bird]
    by_flight = before + flown + beliefs.behind[0]
    never = before[end - 1] + stayed[end - 1]
    free = np.add.reduceat(beliefs.predicted, start)
    best = np.maximum(np.maximum.reduceat(by_flight, start), never)
    place = np.where(by_flight >= best[chains.bird], np.arange(n), n)
    first = np.minimum(np.minimum.reduceat(place, start), end)
    first = np.where(best > free, first, start)
    found: Flags = np.arange(n) < first[chains.bird]
    return found

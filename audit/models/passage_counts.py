"""Expected numbers of what birds did, and what they say of each bird and antenna."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.passage_efficiency import of_pieces
from audit.models.passage_habits import Own
from audit.models.passage_learnt_manners import heard_back
from audit.models.passage_manners import KINDS, LINGER, LOOK, MANY, PASSAGE, REST
from audit.models.passage_sights import LASTING, SIGHTS
from audit.models.passage_sights import PAIR as HEARD_PAIR
from audit.models.reads import INNER, OUTER, Crossings

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_alike import Looks, Pauses
    from audit.models.passage_chains import Chains
    from audit.models.passage_habits import Habits
    from audit.models.passage_limits import Limits
    from audit.models.passage_weighing import Weighed

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["Counts", "counts_of", "crossings", "crossings_of_birds", "own_beliefs", "seen"]

_TINY = np.finfo(float).tiny


@dataclass(frozen=True, slots=True)
class Counts:
    """Expected numbers; the first axis is whether the bird has not flown yet, the second its state.

    Attributes
    ----------
    looks : Looks
    pauses : Pauses
    bound : numpy.ndarray of bool, shape (n,)
        Groups of birds that have not flown yet.
    did : numpy.ndarray, shape (2, 2, 5, u)
        Groups at which a bird passed, looked, rested or lingered in two ways, by kind of look.
    begun : numpy.ndarray, shape (2, 2, 5, u)
        The same where a bird that lingers over several groups counts at the first of them only.
    lost : numpy.ndarray, shape (2, 2, v)
        Crossings that were missed, by the state before them and by kind of pause.
    """

    looks: Looks
    pauses: Pauses
    bound: Flags
    did: Floats
    begun: Floats
    lost: Floats


def counts_of(chains: Chains, found: Weighed, bound: Flags) -> Counts:
    """Count what birds probably did; groups that are `bound` apart from others."""
    looks, pauses = found.looks, found.pauses
    kinds, waits = len(looks.bird), len(pauses.pair)
    row, wait = looks.row, pauses.row
    if bound.any():
        row, wait = row + kinds * bound, wait + waits * bound
    of_lanes = row[chains.runs.lanes]
    did = np.empty((2, 2, MANY, kinds))
    did[:, :, PASSAGE] = _summed(row, found.passed, kinds)
    part = _summed(row, found.stayed, kinds) / np.maximum(looks.stays, _TINY)
    did[:, :, LOOK], did[:, :, REST] = looks.ways[:, LOOK] * part, looks.ways[:, REST] * part
    did[:, :, LINGER:] = _summed(of_lanes, found.lingers, kinds)
    begun = did.copy()
    # of two passages one is from either state
    begun[:, :, PASSAGE] += (looks.twice * part).sum(axis=1, keepdims=True)
    begun[:, :, PASSAGE] -= _summed(of_lanes, found.crosses.sum(axis=1), kinds)
    begun[:, :, LINGER:] = _summed(of_lanes, found.begins, kinds)
    stay, change = _summed(wait, found.stay, waits), _summed(wait, found.change, waits)
    since = pauses.since
    lost = stay * since.lost_staying + change * since.lost_changing
    lost += (stay * since.lost_staying + change * since.back_changing)[:, ::-1]
    return Counts(looks, pauses, bound, did, begun, lost)


def _summed(row: Ints, weights: Floats, many: int) -> Floats:
    """Sum weights, shape (..., n), by kind: the ones first, then the same kinds of those that are bound."""
    flat = weights.reshape(math.prod(weights.shape[:-1]), len(row))
    found = np.empty((2, len(flat), many))
    for nr, one in enumerate(flat):
        found[:, nr] = np.bincount(row, one, 2 * many).reshape(2, many)
    return found.reshape(2, *weights.shape[:-1], many)


def own_beliefs(chains: Chains, habits: Habits, counts: Counts, own: Own, limits: Limits) -> Own:
    """Believe of each bird and antenna what it shows, drawn towards all others; `own` was believed before."""
    birds = int(chains.bird[-1]) + 1 if len(chains.bird) else 0
    flown, bound = counts.begun
    shares = _by_bird(counts.looks.bird, flown, birds)
    shares[:, PASSAGE] += _by_bird(counts.pauses.bird, counts.lost[0], birds)
    shares[1] += _nestling(_by_bird(counts.looks.bird, bound[1], birds), limits)
    shares += limits.weight_shares * habits.manners.shares[:, :, None]
    heard, asked = crossings(chains, counts, own)
    ready = heard_back(habits.manners, seen(chains, counts), own.efficiency[chains.hearing.pairs], own.back)
    again, looked = (np.bincount(chains.logger, one)[chains.logger] for one in ready)
    return Own(
        shares / shares.sum(axis=1, keepdims=True),
        np.repeat(habits.manners.first[:, None], birds, axis=1),
        of_pieces(chains, habits, heard, asked, limits),
        (again + limits.weight_ready * chains.ready) / (looked + limits.weight_ready),
        _follows(chains, counts, own, limits),
        counts.bound,
        counts.bound[chains.groups.fresh],
    )


def _by_bird(bird: Ints, weights: Floats, birds: int) -> Floats:
    flat = weights.reshape(math.prod(weights.shape[:-1]), len(bird))
    found = np.empty((len(flat), birds))
    for nr, one in enumerate(flat):
        found[nr] = np.bincount(bird, one, birds)
    return found.reshape(*weights.shape[:-1], birds)


def _nestling(done: Floats, limits: Limits) -> Floats:
    """Draw on what birds did before they flew, shape (5, birds): they may go on to look out and rest."""
    done[PASSAGE] = 0.0
    much = done.sum(axis=0)
    kept: Floats = done * (limits.weight_shares / np.maximum(much, limits.weight_shares))
    return kept


def seen(chains: Chains, counts: Counts) -> Floats:
    """Return expected numbers of groups, laid out as likelihoods are, shape (2, 5, m, SIGHTS)."""
    pairs = chains.hearing.pairs.shape[1]
    found = np.empty((2, MANY, pairs, SIGHTS))
    for state in (0, 1):
        for did in KINDS:
            one = counts.did[:, state, did].sum(axis=0)
            found[state, did] = np.bincount(counts.looks.sights, one, pairs * SIGHTS).reshape(pairs, SIGHTS)
    return found


def _heard_in_turn(chains: Chains, counts: Counts) -> Floats:
    """Count crossings that the first antenna alone heard, the second, and both, shape (2, m, 3), by state."""
    pairs = chains.hearing.pairs.shape[1]
    found = np.empty((2, pairs, 3))
    for state in (0, 1):
        passed = counts.did[:, state, PASSAGE].sum(axis=0)
        view = (
            np.bincount(counts.looks.sights, passed, pairs * SIGHTS).reshape(pairs, -1, LASTING).sum(axis=2)
        )
        found[state] = np.stack(
            [view[:, state], view[:, 1 - state], view[:, HEARD_PAIR:].sum(axis=1)], axis=1
        )
    return found


def _follows(chains: Chains, counts: Counts, own: Own, limits: Limits) -> Floats:
    """Tell how often loggers whose antennas wait together were ready at the second one, shape (m,)."""
    if (chains.follows == 1).all():
        return chains.follows
    heard, second = _heard_in_turn(chains, counts), own.efficiency[chains.hearing.pairs[::-1]]
    both = heard[:, :, 2].sum(axis=0)
    asked = ((heard[:, :, 0] + heard[:, :, 2]) * second).sum(axis=0)
    both, asked = (np.bincount(chains.logger, one)[chains.logger] for one in (both, asked))
    found: Floats = (both + limits.weight_ready * chains.follows) / (asked + limits.weight_ready)
    return np.minimum(found, limits.hears_most)


def crossings(chains: Chains, counts: Counts, own: Own) -> tuple[Floats, Floats]:
    """Return how many crossings each piece of an antenna heard, and how many it could have heard.

    A logger that was not ready at the second antenna could not have heard at it.
    """
    hearing = chains.hearing
    pieces, pairs = len(hearing.told), hearing.pairs.shape[1]
    first, second, both = np.moveaxis(_heard_in_turn(chains, counts), -1, 0)
    heard = first + second[::-1] + both.sum(axis=0)
    lost = counts.lost.sum(axis=(0, 1))
    asked = (first + second + both).sum(axis=0) + np.bincount(counts.pauses.pair, lost, pairs)
    other = own.efficiency[hearing.pairs[::-1]]
    missing = first * (1 - own.follows) / np.maximum(1 - own.follows * other, _TINY)
    of = hearing.pairs.ravel()
    known: Floats = np.bincount(of, heard.ravel(), pieces).astype(float)
    whole: Floats = np.bincount(of, (asked - missing[::-1]).ravel(), pieces).astype(float)
    return known, whole


def crossings_of_birds(chains: Chains, counts: Counts) -> Crossings:
    """Count what both antennas, one alone and none of them heard, where both are said to have been awake.

    Parameters
    ----------
    chains : Chains
        Whole boxes.
    counts : Counts
        Of the last weighing.
    """
    hearing, looks, pauses = chains.hearing, counts.looks, counts.pauses
    on = ~(hearing.off | hearing.doubted)
    awake = on[hearing.pairs[OUTER]] & on[hearing.pairs[INNER]]
    # where the antennas of a logger wait together, neither tells how well the other hears
    awake &= chains.follows >= 1
    first = np.flatnonzero(chains.groups.fresh)
    pair, sight = np.divmod(looks.sights, SIGHTS)
    passed = counts.did[:, :, PASSAGE].sum(axis=(0, 1)) * awake[pair]
    # the outer antenna alone, the inner alone, both
    by = np.minimum(sight // LASTING, HEARD_PAIR)
    heard = np.bincount(by * len(first) + looks.bird, passed, 3 * len(first)).reshape(3, -1)
    lost = counts.lost.sum(axis=(0, 1)) * awake[pauses.pair]
    return Crossings(
        chains.box[first],
        chains.tag[first],
        heard[HEARD_PAIR],
        heard[OUTER],
        heard[INNER],
        np.bincount(pauses.bird, lost, len(first)).astype(float),
    )

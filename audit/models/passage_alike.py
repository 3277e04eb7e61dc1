"""Groups that look alike, and waits that are alike: what is weighed of them is weighed once for all."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.numbered_keys import numbered
from audit.models.passage_events import likelihoods
from audit.models.passage_manners import KINDS, LOOK, MANY, PASSAGE, REST
from audit.models.passage_missed import between
from audit.models.passage_returns import returns
from audit.models.passage_waits import WAITS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_chains import Chains
    from audit.models.passage_habits import Habits, Own
    from audit.models.passage_limits import Limits
    from audit.models.passage_missed import Between

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["Looks", "Pauses", "looks_of", "pauses_of"]

_TINY = np.finfo(float).tiny


@dataclass(frozen=True, slots=True)
class Looks:
    """What groups look like, by kinds of them: of one bird, with one look, before or after its first flight.

    Attributes
    ----------
    row : numpy.ndarray of int, shape (n,)
        Kind of each group.
    bird, sights : numpy.ndarray of int, shape (u,)
        Of each kind, as in `Chains`.
    bound : numpy.ndarray of bool, shape (u,)
        Whether the bird has not flown yet.
    plain : numpy.ndarray, shape (2, 5, u)
        Likelihoods by state and what the bird did, without shares, over `scale`.
    ways : numpy.ndarray, shape (2, 5, u)
        The same with shares.
    twice : numpy.ndarray, shape (2, u)
        That a bird passes twice, with shares, over `scale`.
    scale : numpy.ndarray, shape (u,)
        The most that looks, rests and passages make of each.
    """

    row: Ints
    bird: Ints
    sights: Ints
    bound: Flags
    plain: Floats
    ways: Floats
    twice: Floats
    scale: Floats

    @property
    def stays(self) -> Floats:
        """That the bird looks, rests, or passes twice, shape (2, u)."""
        found: Floats = self.ways[:, LOOK] + self.ways[:, REST] + self.twice
        return found

    @property
    def events(self) -> Floats:
        """Likelihood of the states in front of the group and behind it, shape (2, 2, u)."""
        stays, passes = self.stays, self.ways[:, PASSAGE]
        return np.stack([[stays[0], passes[0]], [passes[1], stays[1]]])


@dataclass(frozen=True, slots=True)
class Pauses:
    """Times since the group before, by kinds of them: of one bird and pair of antennas, of one length.

    Attributes
    ----------
    row : numpy.ndarray of int, shape (n,)
        Kind of each group.
    bird, pair : numpy.ndarray of int, shape (v,)
        Bird, and pair of pieces of antennas behind the wait.
    bins : numpy.ndarray of int, shape (v,)
        Bin of the wait.
    passing, unheard : numpy.ndarray, shape (2, v)
        Chance that the next thing a bird does outside, or inside, is a crossing, and one that is not heard.
    since : Between
        What may have happened meanwhile.
    whole : numpy.ndarray, shape (v,)
        What all of it adds up to.
    gaps : numpy.ndarray, shape (2, 2, v)
        From the state behind the group before to that in front of this one, over `whole`.
    """

    row: Ints
    bird: Ints
    pair: Ints
    bins: Ints
    passing: Floats
    unheard: Floats
    since: Between
    whole: Floats
    gaps: Floats


def looks_of(chains: Chains, habits: Habits, own: Own, limits: Limits) -> Looks:
    """Weigh what groups look like."""
    efficiency = own.efficiency[chains.hearing.pairs]
    table = likelihoods(habits.manners, efficiency, own.back, own.follows).reshape(2, MANY, -1)
    wide, birds = table.shape[2], own.shares.shape[2]
    key = chains.bird * (2 * wide) + chains.sights
    if own.bound.any():
        key[own.bound] += wide
    values, row = numbered(key, 2 * wide * birds)
    of, sights = np.divmod(values, wide)
    bird, bound = of >> 1, (of & 1).astype(np.bool_)
    plain: Floats = table[:, :, sights]
    ways = plain * own.shares[:, :, bird]
    twice = returns(habits.manners, habits.waits, efficiency, limits).reshape(2, -1)[:, sights]
    twice *= own.shares[0, PASSAGE, bird] * own.shares[1, PASSAGE, bird]
    if bound.any():
        twice[:, bound] = 0.0
        ways[0][:, bound] = 0.0
        ways[1, PASSAGE, bound] = 0.0
        for share, what in zip(habits.nest_shares, KINDS[LOOK:], strict=True):
            ways[1, what, bound] = plain[1, what, bound] * share
        plain[:, PASSAGE, bound] = 0.0
    stays = ways[:, LOOK] + ways[:, REST] + twice
    scale = np.maximum(np.maximum(ways[:, PASSAGE], stays).max(axis=0), _TINY)
    return Looks(row, bird, sights, bound, plain / scale, ways / scale, twice / scale, scale)


def pauses_of(chains: Chains, habits: Habits, own: Own, wonder: float) -> Pauses:
    """Weigh what may have happened between groups; `wonder` is added to all."""
    stretch, first = chains.stretch, np.flatnonzero(np.diff(chains.stretch, prepend=-1))
    key = chains.stretch * (2 * WAITS) + chains.bins
    if own.bound.any():
        key[own.bound] += WAITS
    values, row = numbered(key, 2 * WAITS * len(first))
    of, bins = np.divmod(values, WAITS)
    stretch, bound = first[of >> 1], (of & 1).astype(np.bool_)
    efficiency = own.efficiency[chains.hearing.pairs]
    miss = ((1 - efficiency[0]) * (1 - efficiency[1]))[chains.hearing.pair]
    # antennas may have come to hear otherwise meanwhile
    miss = (miss[stretch] + miss[np.maximum(stretch - 1, 0)]) / 2
    bird = chains.bird[stretch]
    passing: Floats = own.shares[:, PASSAGE, bird]
    since = between(habits.waits, bins + WAITS * own.young[bird], passing * miss)
    gaps = np.stack([[since.stay[0], since.change[0]], [since.change[1], since.stay[1]]])
    whole = np.maximum(gaps.sum(axis=(0, 1)), _TINY)
    gaps /= whole
    gaps += wonder
    if bound.any():
        gaps[:, :, bound] = 0.0
        gaps[1, 1, bound] = habits.nest_wait[bins[bound]] / whole[bound]
    pair = chains.hearing.pair[stretch]
    return Pauses(row, bird, pair, bins, passing, passing * miss, since, whole, gaps)

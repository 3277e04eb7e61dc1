"""Learn from a log how its birds behave at the entrance and how well its antennas hear."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from audit.models.passage_chain import forward_backward
from audit.models.passage_events import (
    LOOK,
    PASSAGE,
    REST,
    SIGHTS,
    Manners,
    first_manners,
    heard_by,
    learn_manners,
    likelihoods,
    see,
)
from audit.models.passage_hearing import Hearing
from audit.models.passage_waits import Waits, between, bin_of, waits_from

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.read_groups import Groups
    from audit.models.reads import Reads, Spells

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Chains", "Habits", "Limits", "Weighed", "chains_of", "learn", "weigh"]

#: Something that no model knows: a hole in the roof, an exchanged tag, a bird carried in.
_WONDER = 1e-4
_SMALL = 1e-12
#: An efficiency told for a dead antenna is worth so many crossings.
_OFF_WORTH = 1000.0
#: Chains are weighed again with their own shares and antennas so often.
_AGAIN = 3
#: Learning ends when the log likelihood gains less than so much per group.
_SETTLED = 2e-5


@dataclass(frozen=True, slots=True)
class Limits:
    """Numbers of ``antennas.yaml`` under ``passages``; see there."""

    gap_s: float
    gap_least_s: float
    gap_most_s: float
    gap_reads: int
    sitting_from_s: float
    within_s: float
    report_from: float
    unknown_from: float
    reads_least: int
    start_efficiency: float
    start_passages: float
    start_looks: float
    weight_efficiency: float
    weight_shares: float
    learn_groups: int
    turns: int


@dataclass(frozen=True, slots=True)
class Chains:
    """Groups of birds one behind the other, with everything that does not change while learning.

    Attributes
    ----------
    groups : Groups
    box, tag : numpy.ndarray of int32, shape (n,)
        Of each group.
    bird : numpy.ndarray of int, shape (n,)
        Number of the tag at its box.
    wait : numpy.ndarray, shape (n,)
        Seconds since the group before in which an antenna could hear.
    bins : numpy.ndarray of int, shape (n,)
        Bins of these.
    sights : numpy.ndarray of int, shape (n,)
        Pair of pieces of antennas and what the group looks like, as one number.
    hearing : Hearing
    """

    groups: Groups
    box: NDArray[np.int32]
    tag: NDArray[np.int32]
    bird: Ints
    wait: Floats
    bins: Ints
    sights: Ints
    hearing: Hearing


@dataclass(frozen=True, slots=True)
class Habits:
    """What was learnt of a log.

    Attributes
    ----------
    manners : Manners
    waits : Waits
    efficiency : float
        Of an antenna of which nothing else is known.
    """

    manners: Manners
    waits: Waits
    efficiency: float


@dataclass(frozen=True, slots=True)
class Weighed:
    """Probabilities of everything that happened, by group.

    Attributes
    ----------
    did : numpy.ndarray, shape (2, 3, n)
        Of the state before the group and of passage, look and rest.
    none, one : numpy.ndarray, shape (2, n)
        Of the state behind the group before, and of no missed crossing since, or one.
    lost : numpy.ndarray, shape (2, n)
        Expected number of crossings from either state that were missed since the group before.
    log_likelihood : float
    """

    did: Floats
    none: Floats
    one: Floats
    lost: Floats
    log_likelihood: float


@dataclass(frozen=True, slots=True)
class _Own:
    """What is believed of single birds and antennas."""

    shares: Floats
    first: Floats
    efficiency: Floats


def chains_of(reads: Reads, groups: Groups, spells: Spells) -> Chains:
    """Lay out the groups of reads as chains."""
    box, tag = reads.box[groups.begin], reads.tag[groups.begin]
    since = np.concatenate([groups.start[:1], groups.stop[:-1]])
    since = np.where(groups.fresh, groups.start, since)
    hearing = Hearing.at(spells, box, since, groups.start)
    wait = np.maximum((groups.start - since) / 1000.0 - hearing.silent, 0.0)
    bird = np.cumsum(groups.fresh) - 1
    sights = hearing.pair * SIGHTS + see(groups)
    return Chains(groups, box, tag, bird, wait, bin_of(wait), sights, hearing)


def weigh(chains: Chains, habits: Habits, limits: Limits) -> Weighed:
    """Weigh chains with learnt habits, and with what their own birds and antennas show."""
    own = _as_all(chains, habits)
    for _ in range(_AGAIN - 1):
        found = _weigh(chains, habits, own)
        own = _own(chains, habits, found, limits)
    return _weigh(chains, habits, own)


def learn(chains: Chains, limits: Limits) -> Habits:
    """Learn habits by expectation and maximisation.

    References
    ----------
    Dempster, A. P., Laird, N. M. & Rubin, D. B. (1977). Maximum likelihood from incomplete data via the EM
    algorithm. JRSS B 39, 1-38. Pyke, R. (1961). Markov renewal processes. Ann. Math. Statist. 32: waits that
    depend on the state and are not exponential.
    """
    start = first_manners(limits.start_passages, limits.start_looks, limits.sitting_from_s)
    fresh = chains.groups.fresh
    inside = ~fresh & (chains.hearing.silent <= 0)
    waits = waits_from(chains.bins[inside], np.full((2, int(inside.sum())), 0.5))
    habits = Habits(start, waits, limits.start_efficiency)
    own = _as_all(chains, habits)
    reached = -np.inf
    for _ in range(limits.turns):
        found = _weigh(chains, habits, own)
        manners = learn_manners(habits.manners, _seen(chains, found), _by_pair(chains, own), start)
        shares = found.did.sum(axis=2) + limits.weight_shares * start.shares
        shares[:, PASSAGE] += found.lost.sum(axis=1)
        first = found.did[:, :, fresh].sum(axis=(1, 2)) + 1.0
        manners = replace(
            manners, shares=shares / shares.sum(axis=1, keepdims=True), first=first / first.sum()
        )
        waits = waits_from(chains.bins[inside], found.none[:, inside])
        heard, asked = _crossings(chains, found)
        plain = ~chains.hearing.off
        efficiency = float((heard[plain].sum() + 10) / (asked[plain].sum() + 10 / limits.start_efficiency))
        habits = Habits(manners, waits, efficiency)
        own = _own(chains, habits, found, limits)
        if abs(found.log_likelihood - reached) < _SETTLED * len(fresh):
            break
        reached = found.log_likelihood
    return habits


def _as_all(chains: Chains, habits: Habits) -> _Own:
    told = chains.hearing.told
    birds = int(chains.bird[-1]) + 1 if len(chains.bird) else 0
    return _Own(
        np.repeat(habits.manners.shares[:, :, None], birds, axis=2),
        np.repeat(habits.manners.first[:, None], birds, axis=1),
        np.where(np.isnan(told), habits.efficiency, told),
    )


def _own(chains: Chains, habits: Habits, found: Weighed, limits: Limits) -> _Own:
    """Believe of each bird and antenna what it shows, drawn towards all others."""
    birds = int(chains.bird[-1]) + 1 if len(chains.bird) else 0
    shares = np.empty((2, 3, birds))
    for state in (0, 1):
        for did in (PASSAGE, LOOK, REST):
            weight = found.did[state, did] + (found.lost[state] if did == PASSAGE else 0.0)
            shares[state, did] = np.bincount(chains.bird, weight, birds)
    shares += limits.weight_shares * habits.manners.shares[:, :, None]
    told = chains.hearing.told
    before = np.where(np.isnan(told), habits.efficiency, told)
    worth = np.where(chains.hearing.off, _OFF_WORTH, limits.weight_efficiency)
    heard, asked = _crossings(chains, found)
    return _Own(
        shares / shares.sum(axis=1, keepdims=True),
        np.repeat(habits.manners.first[:, None], birds, axis=1),
        (heard + worth * before) / (asked + worth),
    )


def _by_pair(chains: Chains, own: _Own) -> Floats:
    """Efficiencies of both antennas of each pair, shape (2, m)."""
    found: Floats = own.efficiency[chains.hearing.pairs]
    return found


def _weigh(chains: Chains, habits: Habits, own: _Own) -> Weighed:
    """One pass forward and backward."""
    n = len(chains.bird)
    fresh = chains.groups.fresh
    tiny = np.finfo(float).tiny
    efficiency = _by_pair(chains, own)
    table = likelihoods(habits.manners, efficiency).reshape(2, 3, -1)
    ways = table[:, :, chains.sights] * own.shares[:, :, chains.bird]
    events = np.empty((2, 2, n))
    stays = ways[:, LOOK] + ways[:, REST]
    for state in (0, 1):
        events[state, 1 - state], events[state, state] = ways[state, PASSAGE], stays[state]
    scale = np.maximum(events.max(axis=(0, 1)), tiny)
    events /= scale
    miss = ((1 - efficiency[0]) * (1 - efficiency[1]))[chains.hearing.pair]
    miss[1:] = (miss[1:] + miss[:-1]) / 2
    passing = own.shares[:, PASSAGE][:, chains.bird]
    since = between(habits.waits, chains.bins, passing * miss)
    gaps = np.empty((2, 2, n))
    for state in (0, 1):
        gaps[state, state], gaps[state, 1 - state] = since.stay[state], since.change[state]
    whole = np.maximum(gaps.sum(axis=(0, 1)), tiny)
    gaps /= whole
    gaps += _WONDER
    silent = np.flatnonzero(chains.hearing.silent > 0)
    if len(silent):
        mixing = _mixing(habits, passing[:, silent], chains.hearing.silent[silent])
        gaps[:, :, silent] = np.einsum("abn,bcn->acn", mixing, gaps[:, :, silent])
    beliefs = forward_backward(gaps, events, fresh, own.first[:, chains.bird])
    did = ways
    rows = np.array([0, 1])
    did[:, PASSAGE] = beliefs.within[rows, 1 - rows]
    part = beliefs.within[rows, rows] / np.maximum(stays, tiny)
    did[:, LOOK] *= part
    did[:, REST] *= part
    told = beliefs.before
    told[:, :, fresh] = 0.0
    told[:, :, silent] = 0.0
    stay, change = told[rows, rows], told[rows, 1 - rows]
    lost = stay * since.lost_staying + change * since.lost_changing
    lost += (stay * since.lost_staying + change * since.back_changing)[::-1]
    likelihood = beliefs.log_likelihood + float(np.log(scale).sum() + np.log(whole[~fresh]).sum())
    return Weighed(
        did,
        stay * since.none / np.maximum(since.stay, tiny),
        change * since.one / np.maximum(since.change, tiny),
        lost,
        likelihood,
    )


def _mixing(habits: Habits, passing: Floats, silent: Floats) -> Floats:
    """How states mix while nobody hears, shape (2, 2, n): two states that change at constant rates."""
    rate = np.maximum(passing, _SMALL) / habits.waits.mean[:, None]
    whole = rate[0] + rate[1]
    fade = np.exp(-np.minimum(whole * silent, 700.0))
    found = np.empty((2, 2, len(silent)))
    for state in (0, 1):
        found[state, 1 - state] = rate[state] / whole * (1 - fade)
        found[state, state] = 1 - found[state, 1 - state]
    return found


def _seen(chains: Chains, found: Weighed) -> Floats:
    """Return expected numbers of groups, laid out as likelihoods are, shape (2, 3, m, SIGHTS)."""
    pairs = chains.hearing.pairs.shape[1]
    counts = np.empty((2, 3, pairs, SIGHTS))
    for state in (0, 1):
        for did in (PASSAGE, LOOK, REST):
            counts[state, did] = np.bincount(chains.sights, found.did[state, did], pairs * SIGHTS).reshape(
                pairs, SIGHTS
            )
    return counts


def _crossings(chains: Chains, found: Weighed) -> tuple[Floats, Floats]:
    """Return how many crossings each piece of an antenna heard, and how many it could have heard."""
    hearing = chains.hearing
    pieces, pairs = len(hearing.told), hearing.pairs.shape[1]
    passed = found.did[:, PASSAGE].sum(axis=0)
    counts: Floats = np.bincount(chains.sights, passed, pairs * SIGHTS).reshape(pairs, SIGHTS).astype(float)
    asked = counts.sum(axis=1) + np.bincount(hearing.pair, found.lost.sum(axis=0), pairs)
    heard = heard_by(counts)
    of = hearing.pairs.ravel()
    known: Floats = np.bincount(of, heard.ravel(), pieces).astype(float)
    whole: Floats = np.bincount(of, np.tile(asked, 2), pieces).astype(float)
    return known, whole

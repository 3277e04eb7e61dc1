"""Weigh what birds did, group by group, with what is believed of them and of the antennas."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.passage_events import (
    KINDS,
    LINGER,
    LOOK,
    MANY,
    PASSAGE,
    REST,
    SIGHTS,
    Manners,
    heard_by,
    likelihoods,
)
from audit.models.passage_flights import not_yet_flown
from audit.models.passage_lingering import weigh_runs
from audit.models.passage_runs import Lingering
from audit.models.passage_silence import over_silence
from audit.models.passage_waits import WAITS, Waits, between

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_chains import Chains
    from audit.models.passage_limits import Limits

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = [
    "Habits",
    "Own",
    "Weighed",
    "as_all",
    "by_pair",
    "crossings",
    "own_beliefs",
    "seen",
    "weigh_once",
]

_TINY = np.finfo(float).tiny


@dataclass(frozen=True, slots=True)
class Habits:
    """What was learnt of a log.

    Attributes
    ----------
    manners : Manners
    waits : Waits
    efficiency : float
        Of an antenna of which nothing else is known.
    nest_shares : numpy.ndarray, shape (4,)
        Shares of looks, rests and ways to linger of birds that have never flown.
    nest_wait : numpy.ndarray, shape (bins,)
        Density of the time between these, per second.
    pauses : numpy.ndarray, shape (2, bins)
        Density of the time between two groups of a bird that lingers for a moment, or for long, per second.
    after : numpy.ndarray, shape (2, 3)
        Chances that such a bird goes on, leaves or passes at the next group.
    """

    manners: Manners
    waits: Waits
    efficiency: float
    nest_shares: Floats
    nest_wait: Floats
    pauses: Floats
    after: Floats


@dataclass(frozen=True, slots=True)
class Weighed:
    """Probabilities of everything that happened, by group.

    Attributes
    ----------
    did : numpy.ndarray, shape (2, 5, n)
        Of the state before the group and of passage, look, rest and two ways to linger.
    none, one : numpy.ndarray, shape (2, n)
        Of the state behind the group before, and of no missed crossing since, or one.
    lost : numpy.ndarray, shape (2, n)
        Expected number of crossings from either state that were missed since the group before.
    log_likelihood : float
    bound : numpy.ndarray of bool, shape (n,)
        Groups of birds that have probably not flown yet.
    young : numpy.ndarray of bool, shape (n,)
        Groups of birds that had not flown at first.
    begins, crosses : numpy.ndarray, shape (2, 2, n)
        Of a bird that begins to linger there in this state and way, and of one that lingered and passes.
    across : numpy.ndarray, shape (2, n)
        Of one that lingered since the group before.
    """

    did: Floats
    none: Floats
    one: Floats
    lost: Floats
    log_likelihood: float
    bound: Flags
    young: Flags
    begins: Floats
    across: Floats
    crosses: Floats


@dataclass(frozen=True, slots=True)
class Own:
    """What is believed of single birds and antennas.

    Attributes
    ----------
    shares : numpy.ndarray, shape (2, 5, birds)
        Shares of passages, looks, rests and two ways to linger by state.
    first : numpy.ndarray, shape (2, birds)
        Chance of being outside and inside at first.
    efficiency : numpy.ndarray, shape (pieces,)
        Chance that a piece of an antenna hears a crossing.
    bound : numpy.ndarray of bool, shape (n,)
        Groups of birds that have not flown yet.
    young : numpy.ndarray of bool, shape (n,)
        Groups of birds that had not flown at first.
    """

    shares: Floats
    first: Floats
    efficiency: Floats
    bound: Flags
    young: Flags


def as_all(chains: Chains, habits: Habits) -> Own:
    """Believe of each bird and antenna what is believed of all."""
    told = chains.hearing.told
    birds = int(chains.bird[-1]) + 1 if len(chains.bird) else 0
    return Own(
        np.repeat(habits.manners.shares[:, :, None], birds, axis=2),
        np.repeat(habits.manners.first[:, None], birds, axis=1),
        np.where(np.isnan(told), habits.efficiency, told),
        np.zeros(len(chains.bird), dtype=np.bool_),
        np.zeros(len(chains.bird), dtype=np.bool_),
    )


def own_beliefs(chains: Chains, habits: Habits, found: Weighed, limits: Limits, bound: Flags) -> Own:
    """Believe of each bird and antenna what it shows, drawn towards all others."""
    birds = int(chains.bird[-1]) + 1 if len(chains.bird) else 0
    shares = np.empty((2, MANY, birds))
    for state in (0, 1):
        for did in KINDS:
            weight = found.begins[state, did - LINGER] if did >= LINGER else found.did[state, did]
            if did == PASSAGE:
                weight = weight - found.crosses[state].sum(axis=0)
            weight = weight + (found.lost[state] if did == PASSAGE else 0.0)
            weight = np.where(bound, 0.0, weight)
            shares[state, did] = np.bincount(chains.bird, weight, birds)
    shares[1] += _nestling(chains, found, bound, birds, limits)
    shares += limits.weight_shares * habits.manners.shares[:, :, None]
    told = chains.hearing.told
    before = np.where(np.isnan(told), habits.efficiency, told)
    worth = np.where(chains.hearing.off, limits.weight_off, limits.weight_efficiency)
    heard, asked = crossings(chains, found)
    return Own(
        shares / shares.sum(axis=1, keepdims=True),
        np.repeat(habits.manners.first[:, None], birds, axis=1),
        (heard + worth * before) / (asked + worth),
        bound,
        bound[chains.groups.fresh][chains.bird],
    )


def _nestling(chains: Chains, found: Weighed, bound: Flags, birds: int, limits: Limits) -> Floats:
    """Count what birds did before they flew, shape (5, birds): they may go on to look out and rest."""
    what = np.concatenate([found.did[1, :LINGER], found.begins[1]])
    done = np.stack([np.bincount(chains.bird, np.where(bound, one, 0.0), birds) for one in what])
    done[PASSAGE] = 0.0
    much = done.sum(axis=0)
    kept: Floats = done * (limits.weight_shares / np.maximum(much, limits.weight_shares))
    return kept


def by_pair(chains: Chains, own: Own) -> Floats:
    """Efficiencies of both antennas of each pair, shape (2, m)."""
    found: Floats = own.efficiency[chains.hearing.pairs]
    return found


def weigh_once(chains: Chains, habits: Habits, own: Own, limits: Limits) -> Weighed:
    """One pass forward and backward."""
    n = len(chains.bird)
    fresh = chains.groups.fresh
    efficiency = by_pair(chains, own)
    table = likelihoods(habits.manners, efficiency).reshape(2, MANY, -1)
    many = np.bincount(chains.bird, minlength=own.shares.shape[2])
    ways: Floats = np.take(table, chains.sights, axis=2, mode="clip")
    lingering, passes = ways[:, LINGER:].copy(), ways[:, PASSAGE].copy()
    ways *= np.repeat(own.shares, many, axis=2)
    bound = np.flatnonzero(own.bound)
    if len(bound):
        ways[0][:, bound] = 0.0
        ways[1, PASSAGE, bound] = 0.0
        for share, what in zip(habits.nest_shares, KINDS[LOOK:], strict=True):
            ways[1, what, bound] = table[1, what, chains.sights[bound]] * share
        passes[:, bound] = 0.0
    events = np.empty((2, 2, n))
    stays = ways[:, LOOK] + ways[:, REST]
    for state in (0, 1):
        events[state, 1 - state], events[state, state] = ways[state, PASSAGE], stays[state]
    scale = np.maximum(events.max(axis=(0, 1)), _TINY)
    events /= scale
    begun = ways[:, LINGER:] / scale
    lingering /= scale
    passes /= scale
    miss = ((1 - efficiency[0]) * (1 - efficiency[1]))[chains.hearing.pair]
    miss[1:] = (miss[1:] + miss[:-1]) / 2
    passing = np.repeat(own.shares[:, PASSAGE], many, axis=1)
    since = between(habits.waits, chains.bins + WAITS * own.young, passing * miss)
    gaps = np.empty((2, 2, n))
    for state in (0, 1):
        gaps[state, state], gaps[state, 1 - state] = since.stay[state], since.change[state]
    whole = np.maximum(gaps.sum(axis=(0, 1)), _TINY)
    gaps /= whole
    gaps += limits.wonder
    silent = np.flatnonzero(chains.hearing.silent > 0)
    if len(silent):
        gaps[:, :, silent] = over_silence(
            chains,
            habits.waits,
            silent,
            (passing[:, silent], (passing * miss)[:, silent]),
            gaps,
            young=own.young,
            true=limits.sleep_true,
        )
        gaps[:, :, silent] += limits.wonder
    if len(bound):
        gaps[:, :, bound] = 0.0
        gaps[1, 1, bound] = habits.nest_wait[chains.bins[bound]] / whole[bound]
    across = habits.pauses[:, chains.bins] / whole
    linger = Lingering(begun, lingering, across, passes, habits.after)
    beliefs = weigh_runs(gaps, events, linger, chains.runs, fresh, np.repeat(own.first, many, axis=1))
    did = ways
    rows = np.array([0, 1])
    did[:, PASSAGE] = beliefs.within[rows, 1 - rows] + beliefs.crosses.sum(axis=1)
    part = beliefs.within[rows, rows] / np.maximum(stays, _TINY)
    did[:, LOOK] *= part
    did[:, REST] *= part
    did[:, LINGER:] = beliefs.lingers
    told = beliefs.before
    told[:, :, fresh] = 0.0
    told[:, :, silent] = 0.0
    told[:, :, bound] = 0.0
    stay, change = told[rows, rows], told[rows, 1 - rows]
    lost = stay * since.lost_staying + change * since.lost_changing
    lost += (stay * since.lost_staying + change * since.back_changing)[::-1]
    likelihood = beliefs.log_likelihood + float(np.log(scale).sum() + np.log(whole[~fresh]).sum())
    nest = habits.nest_shares, habits.nest_wait
    scales = scale, whole
    return Weighed(
        did,
        stay * since.none / np.maximum(since.stay, _TINY),
        change * since.one / np.maximum(since.change, _TINY),
        lost,
        likelihood,
        own.bound
        if len(bound)
        else not_yet_flown(chains, nest, table, scales, beliefs, linger, limits.first_flight),
        own.young,
        beliefs.begins,
        beliefs.across,
        beliefs.crosses,
    )


def seen(chains: Chains, found: Weighed) -> Floats:
    """Return expected numbers of groups, laid out as likelihoods are, shape (2, 5, m, SIGHTS)."""
    pairs = chains.hearing.pairs.shape[1]
    counts = np.empty((2, MANY, pairs, SIGHTS))
    for state in (0, 1):
        for did in KINDS:
            counts[state, did] = np.bincount(chains.sights, found.did[state, did], pairs * SIGHTS).reshape(
                pairs, SIGHTS
            )
    return counts


def crossings(chains: Chains, found: Weighed) -> tuple[Floats, Floats]:
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

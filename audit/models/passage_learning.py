"""Learn from a log how its birds behave at the entrance and how well its antennas hear."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from audit.models.passage_chain import forward_backward
from audit.models.passage_events import (
    FAR,
    LOOK,
    NEAR,
    PAIR,
    PASSAGE,
    REST,
    Manners,
    first_manners,
    learn_manners,
    likelihoods,
    see,
)
from audit.models.passage_hearing import Hearing
from audit.models.passage_waits import MOST_MISSED, Waits, bin_of, missed_chances, waits_from
from audit.models.read_groups import Groups

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_events import Sights
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
    sights : Sights
    hearing : Hearing
    """

    groups: Groups
    box: NDArray[np.int32]
    tag: NDArray[np.int32]
    bird: Ints
    wait: Floats
    bins: Ints
    sights: Sights
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
    missed : numpy.ndarray, shape (2, MOST_MISSED + 1, n)
        Of the state behind the group before, and of so many missed crossings since.
    log_likelihood : float
    """

    did: Floats
    missed: Floats
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
    return Chains(groups, box, tag, bird, wait, bin_of(wait), see(groups), hearing)


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
    inside = ~chains.groups.fresh & (chains.hearing.silent <= 0)
    waits = waits_from(chains.bins[inside], np.full((2, int(inside.sum())), 0.5))
    habits = Habits(start, waits, limits.start_efficiency)
    own = _as_all(chains, habits)
    for _ in range(limits.turns):
        found = _weigh(chains, habits, own)
        manners = learn_manners(habits.manners, chains.sights, found.did, _heard(chains, own), start)
        shares = _counts(found, np.zeros(len(chains.bird), dtype=np.int64), 1)[:, :, 0] + 1.0
        fresh = chains.groups.fresh
        first = found.did[:, :, fresh].sum(axis=(1, 2)) + 1.0
        manners = replace(
            manners, shares=shares / shares.sum(axis=1, keepdims=True), first=first / first.sum()
        )
        waits = waits_from(chains.bins[inside], found.missed[:, 0, inside])
        heard, asked = _crossings(chains, found, own)
        plain = ~chains.hearing.off
        efficiency = float((heard[plain].sum() + 10) / (asked[plain].sum() + 10 / limits.start_efficiency))
        habits = Habits(manners, waits, efficiency)
        own = _own(chains, habits, found, limits)
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
    shares = _counts(found, chains.bird, birds) + limits.weight_shares * habits.manners.shares[:, :, None]
    told = chains.hearing.told
    before = np.where(np.isnan(told), habits.efficiency, told)
    worth = np.where(chains.hearing.off, _OFF_WORTH, limits.weight_efficiency)
    heard, asked = _crossings(chains, found, _as_all(chains, habits))
    return _Own(
        shares / shares.sum(axis=1, keepdims=True),
        np.repeat(habits.manners.first[:, None], birds, axis=1),
        (heard + worth * before) / (asked + worth),
    )


def _heard(chains: Chains, own: _Own) -> Floats:
    found: Floats = own.efficiency[chains.hearing.piece]
    return found


def _weigh(chains: Chains, habits: Habits, own: _Own) -> Weighed:
    """One pass forward and backward."""
    n = len(chains.bird)
    shares = own.shares[:, :, chains.bird]
    efficiency = _heard(chains, own)
    ways = likelihoods(habits.manners, chains.sights, efficiency) * shares
    events = np.empty((2, 2, n))
    stays = ways[:, LOOK] + ways[:, REST]
    for state in (0, 1):
        events[state, 1 - state], events[state, state] = ways[state, PASSAGE], stays[state]
    scale = np.maximum(events.max(axis=(0, 1)), np.finfo(float).tiny)
    events /= scale
    miss = (1 - efficiency[0]) * (1 - efficiency[1])
    miss[1:] = (miss[1:] + miss[:-1]) / 2
    terms = missed_chances(habits.waits, chains.bins, shares[:, PASSAGE] * miss)
    gaps = np.empty((2, 2, n))
    for state in (0, 1):
        gaps[state, state] = terms[state, 0::2].sum(axis=0)
        gaps[state, 1 - state] = terms[state, 1::2].sum(axis=0)
    known = gaps.copy()
    whole = np.maximum(gaps.sum(axis=(0, 1)), np.finfo(float).tiny)
    gaps = (gaps + _WONDER * whole) / whole
    silent = np.flatnonzero(chains.hearing.silent > 0)
    if len(silent):
        mixing = _mixing(habits, shares[:, PASSAGE][:, silent], chains.hearing.silent[silent])
        gaps[:, :, silent] = np.einsum("abn,bcn->acn", mixing, gaps[:, :, silent])
    beliefs = forward_backward(gaps, events, chains.groups.fresh, own.first[:, chains.bird])
    did = np.empty((2, 3, n))
    for state in (0, 1):
        did[state, PASSAGE] = beliefs.within[state, 1 - state]
        part = ways[state, LOOK] / np.maximum(stays[state], np.finfo(float).tiny)
        did[state, LOOK] = beliefs.within[state, state] * part
        did[state, REST] = beliefs.within[state, state] * (1 - part)
    told = beliefs.before.copy()
    told[:, :, chains.groups.fresh] = 0.0
    told[:, :, silent] = 0.0
    missed = terms
    for state in (0, 1):
        for odd in (0, 1):
            end = 1 - state if odd else state
            missed[state, odd::2] *= told[state, end] / np.maximum(known[state, end], np.finfo(float).tiny)
    likelihood = beliefs.log_likelihood + float(np.log(scale).sum())
    likelihood += float(np.log(whole[~chains.groups.fresh]).sum())
    return Weighed(did, missed, likelihood)


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


def _missed_from(found: Weighed) -> Floats:
    """Expected missed crossings before each group from outside and from inside, shape (2, n)."""
    count = np.zeros((2, found.missed.shape[2]))
    for state in (0, 1):
        for n in range(1, MOST_MISSED + 1):
            count[state] += found.missed[state, n] * ((n + 1) // 2)
            count[1 - state] += found.missed[state, n] * (n // 2)
    return count


def _counts(found: Weighed, bird: Ints, birds: int) -> Floats:
    """Expected number of passages, looks and rests by state and bird, shape (2, 3, birds)."""
    counts = np.empty((2, 3, birds))
    missed = _missed_from(found)
    for state in (0, 1):
        for did in (PASSAGE, LOOK, REST):
            weight = found.did[state, did] + (missed[state] if did == PASSAGE else 0.0)
            counts[state, did] = np.bincount(bird, weight, birds)
    return counts


def _crossings(chains: Chains, found: Weighed, own: _Own) -> tuple[Floats, Floats]:
    """Expected number of crossings that each piece of an antenna heard, and of all that it could hear."""
    pieces = len(own.efficiency)
    missed = _missed_from(found).sum(axis=0)
    heard, asked = np.zeros(pieces), np.zeros(pieces)
    for antenna in (0, 1):
        piece = chains.hearing.piece[antenna]
        crossed = np.zeros(len(piece))
        known = np.zeros(len(piece))
        for state in (0, 1):
            mine = NEAR if state == antenna else FAR
            sights = chains.sights.heard[state]
            weight = found.did[state, PASSAGE]
            crossed += weight
            known += weight * ((sights == mine) | (sights == PAIR))
        heard += np.bincount(piece, known, pieces)
        asked += np.bincount(piece, crossed + missed, pieces)
    return heard, asked

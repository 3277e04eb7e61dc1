"""Learn from a log how its birds behave at the entrance and how well its antennas hear."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from audit.models.passage_counts import counts_of, crossings, own_beliefs, seen
from audit.models.passage_efficiency import of_all
from audit.models.passage_habits import Habits, as_all
from audit.models.passage_learnt_manners import learn_manners
from audit.models.passage_manners import LOOK, PASSAGE, first_manners
from audit.models.passage_waits import Sitters, density_of, pauses_from, waits_from
from audit.models.passage_weighing import weigh_once

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_chains import Chains
    from audit.models.passage_limits import Limits
    from audit.models.passage_weighing import Weighed

__all__ = ["learn", "weigh"]


def weigh(chains: Chains, habits: Habits, limits: Limits) -> Weighed:
    """Weigh chains with learnt habits, and with what their own birds and antennas show."""
    own = as_all(chains, habits)
    found = weigh_once(chains, habits, own, limits, flights=True)
    if found.bound.any():
        # a bird that rests in the entrance before it flies does so afterwards, too
        own = own_beliefs(chains, habits, counts_of(chains, found, found.bound), own, limits)
        own = replace(own, bound=np.zeros_like(found.bound))
        found = weigh_once(chains, habits, own, limits, flights=True)
    own = own_beliefs(chains, habits, counts_of(chains, found, found.bound), own, limits)
    return weigh_once(chains, habits, own, limits)


def learn(chains: Chains, limits: Limits) -> Habits:
    """Learn habits by expectation and maximisation, from several beginnings, and keep the likeliest.

    References
    ----------
    Dempster, A. P., Laird, N. M. & Rubin, D. B. (1977). Maximum likelihood from incomplete data via the EM
    algorithm. JRSS B 39, 1-38. Pyke, R. (1961). Markov renewal processes. Ann. Math. Statist. 32: waits that
    depend on the state and are not exponential.
    """
    learnt = [_settled(chains, _begun(chains, limits, looks), limits) for looks in limits.start_looks]
    likely = [reached + before for (_, reached), before in zip(learnt, limits.start_before, strict=True)]
    return learnt[int(np.argmax(likely))][0]


def _begun(chains: Chains, limits: Limits, looks: float) -> Habits:
    """Believe what is believed of all logs, with some share of looks."""
    start = first_manners(limits, looks)
    fresh = chains.groups.fresh
    heard_since = ~fresh & (chains.hearing.silent <= 0)
    soon = np.ones(len(fresh), dtype=np.bool_)
    soon[chains.runs.start] = False
    # a bird that is read in many groups in a row is at rest; fewer may be short visits
    brief = (np.bincount(chains.runs.run, minlength=1) <= limits.brief_most)[chains.runs.run]
    waits = waits_from(
        chains.bins[heard_since], np.tile(0.5 * (~soon | brief)[heard_since], (2, 1)), limits.weight_unseen
    )
    nest = np.array(limits.start_nest)
    after = np.array(limits.start_after)
    pauses = pauses_from(chains.bins[soon], np.stack([brief[soon], ~brief[soon]]).astype(float), limits)
    asked, alike = np.full(2, limits.weight_all), np.full(2, limits.alike_between[0])
    heard = asked * limits.start_efficiency
    return Habits(start, waits, heard, asked, alike, nest, waits.density[0], pauses, after)


def _settled(chains: Chains, habits: Habits, limits: Limits) -> tuple[Habits, float]:
    """Learn on from some habits until little changes; give the logarithm of the likelihood, too."""
    start, own, reached = habits.manners, as_all(chains, habits), -np.inf
    fresh = chains.groups.fresh
    heard_since = ~fresh & (chains.hearing.silent <= 0)
    bins = chains.bins[heard_since]
    bound = own.bound
    lanes = chains.runs.lanes
    new = np.flatnonzero(fresh)
    for turn in range(limits.turns):
        if turn in limits.bound_at:
            free = replace(own, bound=np.zeros_like(bound))
            bound = weigh_once(chains, habits, free, limits, flights=True).bound
            own = replace(own, bound=bound)
        found = weigh_once(chains, habits, own, limits)
        counts = counts_of(chains, found, bound)
        manners = learn_manners(
            habits.manners,
            seen(chains, counts),
            own.efficiency[chains.hearing.pairs],
            own.back,
            start,
            limits,
        )
        flown, in_nest = counts.begun.sum(axis=-1)
        shares = flown + limits.weight_shares * start.shares
        shares[:, PASSAGE] += counts.lost.sum(axis=(0, 2))
        first = (found.passed + found.stayed)[:, new].sum(axis=1) + 1.0
        first += found.lingers[:, :, fresh[lanes]].sum(axis=(1, 2))
        manners = replace(
            manners, shares=shares / shares.sum(axis=1, keepdims=True), first=first / first.sum()
        )
        heard, asked = crossings(chains, counts, own)
        nest = in_nest[1, LOOK:] + limits.weight_nest * np.array(limits.start_nest)
        habits = Habits(
            manners,
            waits_from(
                bins,
                found.none[:, heard_since],
                limits.weight_unseen,
                Sitters(
                    own.young[chains.bird][heard_since], bound[heard_since].astype(float), limits.weight_young
                ),
            ),
            *of_all(chains, heard, asked, limits),
            nest / nest.sum(),
            density_of(bins, bound[heard_since].astype(float), limits.weight_nest, limits.weight_unseen),
            pauses_from(chains.bins[lanes], found.across, limits),
            _after(found, limits),
        )
        own = own_beliefs(chains, habits, counts, own, limits)
        gained, reached = found.log_likelihood - reached, found.log_likelihood
        if turn > max(limits.bound_at) and abs(gained) < limits.settled * len(fresh):
            break
    return habits, reached


def _after(found: Weighed, limits: Limits) -> NDArray[np.float64]:
    """Chances that birds that linger go on, leave or pass at the next group, shape (k, 3)."""
    gone, begun = found.across.sum(axis=1), found.begins.sum(axis=(0, 2))
    passed = found.crosses.sum(axis=(0, 2))
    # each that begins leaves or passes at last
    counts = np.stack([gone - begun, begun - passed, passed], axis=1)
    counts += limits.weight_pauses * np.array(limits.start_after)
    chances: NDArray[np.float64] = counts / counts.sum(axis=1, keepdims=True)
    return chances

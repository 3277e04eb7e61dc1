"""Learn from a log how its birds behave at the entrance and how well its antennas hear."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from audit.models.passage_events import LINGER, LOOK, MANY, PASSAGE, first_manners, learn_manners
from audit.models.passage_waits import Sitters, density_of, pauses_from, waits_from
from audit.models.passage_weighing import Habits, as_all, by_pair, crossings, own_beliefs, seen, weigh_once

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_chains import Chains
    from audit.models.passage_limits import Limits
    from audit.models.passage_weighing import Weighed

__all__ = ["learn", "weigh"]

#: Learning ends when the log likelihood gains less than so much per group.
_SETTLED = 2e-5
#: Turns of learning at which birds that have not flown are looked for again.
_BOUND_AT = (3, 6, 10)


def weigh(chains: Chains, habits: Habits, limits: Limits) -> Weighed:
    """Weigh chains with learnt habits, and with what their own birds and antennas show."""
    found = weigh_once(chains, habits, as_all(chains, habits), limits)
    if found.bound.any():
        # a bird that rests in the entrance before it flies does so afterwards, too
        own = own_beliefs(chains, habits, found, limits, found.bound)
        found = weigh_once(chains, habits, replace(own, bound=np.zeros_like(found.bound)), limits)
    return weigh_once(chains, habits, own_beliefs(chains, habits, found, limits, found.bound), limits)


def learn(chains: Chains, limits: Limits) -> Habits:
    """Learn habits by expectation and maximisation.

    References
    ----------
    Dempster, A. P., Laird, N. M. & Rubin, D. B. (1977). Maximum likelihood from incomplete data via the EM
    algorithm. JRSS B 39, 1-38. Pyke, R. (1961). Markov renewal processes. Ann. Math. Statist. 32: waits that
    depend on the state and are not exponential.
    """
    start = first_manners(limits)
    fresh = chains.groups.fresh
    heard_since = ~fresh & (chains.hearing.silent <= 0)
    bins = chains.bins[heard_since]
    soon = np.ones(len(fresh), dtype=np.bool_)
    soon[chains.runs.start] = False
    # a bird that is read in many groups in a row is at rest; fewer may be short visits
    brief = (np.bincount(chains.runs.run, minlength=1) <= limits.brief_most)[chains.runs.run]
    waits = waits_from(bins, np.tile(0.5 * (~soon | brief)[heard_since], (2, 1)), limits.weight_unseen)
    nest = np.full(MANY - 1, 1 / (MANY - 1))
    after = np.array(limits.start_after)
    pauses = pauses_from(chains.bins[soon], np.stack([brief[soon], ~brief[soon]]).astype(float), limits)
    habits = Habits(start, waits, limits.start_efficiency, nest, waits.density[0], pauses, after)
    own = as_all(chains, habits)
    bound = own.bound
    reached = -np.inf
    for turn in range(limits.turns):
        if turn in _BOUND_AT:
            bound = weigh_once(chains, habits, replace(own, bound=np.zeros_like(bound)), limits).bound
            own = replace(own, bound=bound)
        found = weigh_once(chains, habits, own, limits)
        manners = learn_manners(habits.manners, seen(chains, found), by_pair(chains, own), start, limits)
        events = found.did.copy()
        events[:, LINGER:] = found.begins
        events[:, PASSAGE] -= found.crosses.sum(axis=1)
        shares = events[:, :, ~bound].sum(axis=2) + limits.weight_shares * start.shares
        shares[:, PASSAGE] += found.lost.sum(axis=1)
        first = found.did[:, :, fresh].sum(axis=(1, 2)) + 1.0
        manners = replace(
            manners, shares=shares / shares.sum(axis=1, keepdims=True), first=first / first.sum()
        )
        heard, asked = crossings(chains, found)
        plain = ~chains.hearing.off
        nest = events[1, LOOK:][:, bound].sum(axis=1) + limits.weight_nest / len(nest)
        habits = Habits(
            manners,
            waits_from(
                bins,
                found.none[:, heard_since],
                limits.weight_unseen,
                Sitters(own.young[heard_since], bound[heard_since].astype(float), limits.weight_young),
            ),
            float(
                (heard[plain].sum() + limits.weight_all)
                / (asked[plain].sum() + limits.weight_all / limits.start_efficiency)
            ),
            nest / nest.sum(),
            density_of(bins, bound[heard_since].astype(float), limits.weight_nest, limits.weight_unseen),
            pauses_from(chains.bins[soon], found.across[:, soon], limits),
            _after(found, limits),
        )
        own = own_beliefs(chains, habits, found, limits, bound)
        if turn > max(_BOUND_AT) and abs(found.log_likelihood - reached) < _SETTLED * len(fresh):
            break
        reached = found.log_likelihood
    return habits


def _after(found: Weighed, limits: Limits) -> NDArray[np.float64]:
    """Chances that birds that linger go on, leave or pass at the next group, shape (k, 3)."""
    gone, begun = found.across.sum(axis=1), found.begins.sum(axis=(0, 2))
    passed = found.crosses.sum(axis=(0, 2))
    # each that begins leaves or passes at last
    counts = np.stack([gone - begun, begun - passed, passed], axis=1)
    counts += limits.weight_pauses * np.array(limits.start_after)
    chances: NDArray[np.float64] = counts / counts.sum(axis=1, keepdims=True)
    return chances

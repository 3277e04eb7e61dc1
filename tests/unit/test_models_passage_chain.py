"""Forward and backward against the enumeration of all paths."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.models.passage_chain import forward_backward


def enumerated(gaps, events, fresh, first):
    """Probabilities of all pairs of states, and the likelihood, by trying every path."""
    n = len(fresh)
    before, within, whole = np.zeros((2, 2, n)), np.zeros((2, 2, n)), 0.0
    for path in itertools.product((0, 1), repeat=2 * n):
        links = list(zip(path[::2], path[1::2], strict=True))
        weight, behind = 1.0, 0
        for k, (ahead, after) in enumerate(links):
            weight *= (first[ahead, k] if fresh[k] else gaps[behind, ahead, k]) * events[ahead, after, k]
            behind = after
        whole += weight
        for k, (ahead, after) in enumerate(links):
            within[ahead, after, k] += weight
            if k:
                before[links[k - 1][1], ahead, k] += weight
    return before / whole, within / whole, np.log(whole)


@settings(max_examples=25, deadline=None)
@given(st.integers(1, 6), st.integers(0, 10_000))
def test_a_chain_is_weighed_like_all_its_paths(n, seed):
    # reference: the sum over all 4 ** n paths, the definition of what forward and backward compute
    rng = np.random.default_rng(seed)
    gaps, events = rng.random((2, 2, n)) ** 4, rng.random((2, 2, n)) ** 4
    fresh = rng.random(n) < 0.3
    fresh[0] = True
    first = rng.dirichlet([1, 1], n).T
    found = forward_backward(gaps, events, fresh, first)
    before, within, likelihood = enumerated(gaps, events, fresh, first)
    assert found.within == pytest.approx(within, abs=1e-12)
    inside = ~fresh
    assert found.before[:, :, inside] == pytest.approx(before[:, :, inside], abs=1e-12)
    assert found.log_likelihood == pytest.approx(likelihood)


def test_a_long_chain_is_weighed_like_its_links_in_turn():
    rng = np.random.default_rng(5)
    n = 5000
    gaps, events = rng.random((2, 2, n)) * 1e-9, rng.random((2, 2, n)) * 1e-30
    fresh = rng.random(n) < 0.002
    fresh[0] = True
    first = np.array([0.3, 0.7])
    found = forward_backward(gaps, events, fresh, first)
    ahead, logs = np.array([0.5, 0.5]), 0.0
    forward = np.empty((n, 2))
    for k in range(n):
        ahead = (first if fresh[k] else ahead @ gaps[:, :, k]) @ events[:, :, k]
        logs += np.log(ahead.sum())
        forward[k] = ahead = ahead / ahead.sum()
    behind = np.ones(2)
    for k in range(n - 1, -1, -1):
        joint = forward[k] * behind
        assert found.within[:, :, k].sum(axis=0) == pytest.approx(joint / joint.sum(), abs=1e-9)
        behind = np.ones(2) if fresh[k] else gaps[:, :, k] @ events[:, :, k] @ behind
        behind = behind / behind.sum()
    assert found.log_likelihood == pytest.approx(logs)


def test_nothing_is_weighed_where_nothing_is():
    none = np.empty((2, 2, 0))
    found = forward_backward(none, none, np.empty(0, dtype=bool), np.array([0.5, 0.5]))
    assert found.within.shape == (2, 2, 0)
    assert found.log_likelihood == 0

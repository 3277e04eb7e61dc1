"""Birds that linger over several groups: against the enumeration of everything they may have done."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.models.passage_chain import forward_backward
from audit.models.passage_lingering import weigh_runs
from audit.models.passage_runs import Lingering, runs_of

WAYS = 2


def by_lane(linger, runs):
    """Weights of all groups as those of groups in runs of several."""
    at = runs.lanes
    weights = (linger.begun[:, :, at], linger.seen[:, :, at], linger.across[:, at], linger.passes[:, at])
    return Lingering(*weights, linger.after)


def weighed(gaps, events, linger, runs, fresh, first):
    return weigh_runs(gaps, events, by_lane(linger, runs), runs, fresh, first)


def drawn(n, seed):
    rng = np.random.default_rng(seed)
    gaps, events = rng.random((2, 2, n)) ** 3, rng.random((2, 2, n)) ** 3
    joined = rng.random(n) < 0.7
    fresh = ~joined & (rng.random(n) < 0.5)
    joined[0], fresh[0] = False, True
    linger = Lingering(
        rng.random((2, WAYS, n)),
        rng.random((2, WAYS, n)),
        rng.random((WAYS, n)),
        rng.random((2, n)),
        rng.dirichlet([1, 1, 1], WAYS),
    )
    return gaps, events, linger, joined, fresh, rng.dirichlet([1, 1], n).T


def enumerated(gaps, events, linger, joined, fresh, first):
    """Follow every way: at each group a bird is away in a state, or lingers in a state and way."""
    n = len(fresh)
    found = {
        name: np.zeros(shape)
        for name, shape in {
            "before": (2, 2, n),
            "within": (2, 2, n),
            "lingers": (2, WAYS, n),
            "begins": (2, WAYS, n),
            "across": (WAYS, n),
            "crosses": (2, WAYS, n),
        }.items()
    }
    whole = 0.0

    def follow(k, behind, weight, marks):
        nonlocal whole
        if k == n:
            if not isinstance(behind, tuple):
                whole += weight
                for name, place in marks:
                    found[name][place] += weight
            return
        if isinstance(behind, tuple):
            if not joined[k]:
                return
            state, way = behind
            waited = weight * linger.across[way, k]
            here = [*marks, ("across", (way, k))]
            on, leaves, passes = linger.after[way]
            stays, stay = waited * linger.seen[state, way, k], [*here, ("lingers", (state, way, k))]
            follow(k + 1, behind, stays * on, stay)
            follow(k + 1, state, stays * leaves, stay)
            follow(
                k + 1,
                1 - state,
                waited * passes * linger.passes[state, k],
                [*here, ("crosses", (state, way, k))],
            )
            return
        for state in (0, 1):
            arrived = weight * (first[state, k] if fresh[k] else gaps[behind, state, k])
            here = marks if fresh[k] else [*marks, ("before", (behind, state, k))]
            for after in (0, 1):
                follow(
                    k + 1, after, arrived * events[state, after, k], [*here, ("within", (state, after, k))]
                )
            for way in range(WAYS):
                marked = [*here, ("lingers", (state, way, k)), ("begins", (state, way, k))]
                follow(k + 1, (state, way), arrived * linger.begun[state, way, k], marked)

    # a chain that begins forgets the state before, which two states at once stand for
    follow(0, 0, 1.0, [])
    return {name: values / whole for name, values in found.items()}, np.log(whole)


@settings(max_examples=12, deadline=None)
@given(st.integers(1, 5), st.integers(0, 10_000))
def test_runs_are_weighed_like_all_that_birds_may_have_done(n, seed):
    # reference: the sum over all ways, the definition of what is computed
    gaps, events, linger, joined, fresh, first = drawn(n, seed)
    expected, likelihood = enumerated(gaps, events, linger, joined, fresh, first)
    runs = runs_of(joined, 100)
    found = weighed(gaps, events, linger, runs, fresh, first)
    for name, values in expected.items():
        told = getattr(found, name)
        if name not in ("before", "within"):
            # a bird lingers only where groups follow each other
            alone = np.ones(n, dtype=bool)
            alone[runs.lanes] = False
            assert not values[..., alone].any()
            assert told == pytest.approx(values[..., runs.lanes], abs=1e-12), name
            continue
        inside = ~fresh if name == "before" else np.ones(n, dtype=bool)
        assert told[..., inside] == pytest.approx(values[..., inside], abs=1e-12), name
    assert found.log_likelihood == pytest.approx(likelihood)


def test_what_follows_each_group_is_the_likelihood_of_the_rest():
    gaps, events, linger, joined, fresh, first = drawn(8, 3)
    fresh[1:] = False
    found = weighed(gaps, events, linger, runs_of(joined, 100), fresh, first)
    for k in range(7):
        # reference: the rest weighed by itself, from the gap before it
        for state in (0, 1):
            rest = np.zeros((2, 2, 8 - k - 1))
            rest[:] = gaps[:, :, k + 1 :]
            tail = Lingering(
                linger.begun[:, :, k + 1 :],
                linger.seen[:, :, k + 1 :],
                linger.across[:, k + 1 :],
                linger.passes[:, k + 1 :],
                linger.after,
            )
            begins = np.zeros(7 - k, dtype=bool)
            begins[0] = True
            soon = joined[k + 1 :].copy()
            soon[0] = False
            start = np.repeat(gaps[state, :, k + 1][:, None], 7 - k, axis=1)
            alone = weighed(rest, events[:, :, k + 1 :], tail, runs_of(soon, 100), begins, start)
            assert found.behind[state, k] == pytest.approx(alone.log_likelihood)


def test_birds_that_do_not_linger_are_weighed_as_in_a_plain_chain():
    gaps, events, linger, joined, fresh, first = drawn(40, 7)
    none = Lingering(np.zeros_like(linger.begun), linger.seen, linger.across, linger.passes, linger.after)
    found = weighed(gaps, events, none, runs_of(joined, 100), fresh, first)
    plain = forward_backward(gaps, events, fresh, first)
    assert found.within == pytest.approx(plain.within)
    assert found.behind == pytest.approx(plain.behind)
    assert found.log_likelihood == pytest.approx(plain.log_likelihood)
    assert not found.lingers.any()


def test_long_runs_are_parted():
    joined = np.ones(25, dtype=bool)
    joined[0] = False
    runs = runs_of(joined, 10)
    assert runs.start.tolist() == [0, 10, 20]
    assert [len(runs.lanes[step]) for step in runs.steps] == [3] * 5 + [2] * 5
    assert runs.run.tolist() == [0] * 10 + [1] * 10 + [2] * 5

"""Two passages in one group: against counting, and in a log of birds that hurry."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from audit.declarations import load_declarations
from audit.models.passage_limits import Limits
from audit.models.passage_manners import MANY, PASSAGE, first_manners
from audit.models.passage_returns import returns
from audit.models.passage_sights import SIGHTS
from audit.models.passage_waits import bin_of, waits_from
from audit.models.passages import passages
from audit.models.reads import INNER, OUTER, Reads

LIMITS = Limits(
    **{
        key.rpartition(".")[2]: limit.value
        for key, limit in load_declarations().settings.items()
        if key.startswith("antennas.passages.")
    }
)
HEARD = 12
NEAR, FAR = 0, 1


def order(first, last):
    return 2 + 3 * first + last


@pytest.mark.parametrize("state", [0, 1])
def test_each_passage_may_be_heard_by_one_antenna(state):
    # reference: two passages drawn a million times, near then far and far then near, each heard or not
    near, far = 0.7, 0.55
    sharp = np.full((MANY, 10), 1e-12)
    sharp[PASSAGE, order(NEAR, FAR) - 2] = 1
    manners = replace(first_manners(LIMITS, 0.2), orders=sharp)
    # all stays are of a second, so that no group is parted
    waits = waits_from(bin_of(np.ones(1000)), np.ones((2, 1000)), 1e-9)
    waits = replace(
        waits, density=np.where(np.arange(waits.density.shape[1]) == 0, 4.0, 0.0)[None].repeat(2, 0)
    )
    efficiency = np.array([[near], [far]] if state == 0 else [[far], [near]])
    found = returns(manners, waits, efficiency, LIMITS)[state, 0].reshape(HEARD, -1).sum(axis=1)
    rng = np.random.default_rng(8)
    there, back = rng.random((2, 2, 1_000_000)) < np.array([[near], [far]])
    each = there.any(axis=0) & back.any(axis=0) & (there | back).all(axis=0)
    begins, ends = np.where(there[0], NEAR, FAR), np.where(back[0], NEAR, FAR)
    for first, last in ((NEAR, NEAR), (NEAR, FAR), (FAR, NEAR)):
        expected = (each & (begins == first) & (ends == last)).mean()
        shown = order(first, last) if state == 0 else order(1 - first, 1 - last)
        assert found[shown] == pytest.approx(expected, abs=0.002)
    assert found[:2] == pytest.approx(0)
    assert found.sum() == pytest.approx(found[[order(0, 0), order(0, 1), order(1, 0), order(1, 1)]].sum())
    assert SIGHTS % HEARD == 0


def hurried(visits, rng):
    """Reads and moments of a bird that stays for seconds or minutes, and never only looks."""
    at, antenna, moments, now = [], [], [], 0.0
    for stay in rng.lognormal(np.log(8), 1.0, visits):
        now += rng.uniform(600, 3000)
        at += [now, now + 0.8, now + 0.8 + stay, now + 1.6 + stay]
        antenna += [OUTER, INNER, INNER, OUTER]
        moments.append((now + 0.8, now + 1.6 + stay))
        now += stay
    n = len(at)
    stamps = (np.array(at) * 1000).astype(np.int64)
    one = np.zeros(n, dtype=np.int32)
    return Reads(one, one, stamps, np.array(antenna, dtype=np.int8)), np.array(moments) * 1000


def test_a_bird_that_is_out_again_in_two_seconds_passed_twice():
    reads, moments = hurried(400, np.random.default_rng(5))
    found = passages(reads, None, LIMITS)
    short = moments[moments[:, 1] - moments[:, 0] < 2800]
    assert len(short) > 10
    for direction in (0, 1):
        told = found.at[found.direction == direction]
        right = [np.abs(told - at).min() < 1000 for at in short[:, direction]]
        assert np.mean(right) > 0.9
    twice = found.at[(found.direction == 0) & (found.how == 1)]
    assert len(twice) >= len(short) // 2
    assert (np.diff(found.direction) != 0).mean() > 0.98

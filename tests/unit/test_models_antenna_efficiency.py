"""How well a pair of antennas hears, against worked numbers and a simulation."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.models.antenna_efficiency import Pair, differing, pairs_by, rule_of_none, shrunken


# worked out for this job beforehand, shares against the score interval of scipy 1.17
# (scipy.stats.binomtest(...).proportion_ci(method="wilson")), the rest by hand; estimators are textbook ones
@pytest.mark.parametrize(
    ("counts", "outer", "inner", "either", "directed", "total", "sd", "heard", "lost"),
    [
        (
            (180, 190, 171),
            (0.900, 0.849, 0.935),
            (0.950, 0.908, 0.973),
            0.9950,
            0.855,
            199.99,
            1.07,
            199,
            1.0,
        ),
        ((95, 60, 55), (0.917, 0.819, 0.964), (0.579, 0.478, 0.673), 0.9649, 0.531, 103.57, 2.56, 100, 3.6),
        ((40, 38, 30), (0.789, 0.636, 0.889), (0.750, 0.598, 0.858), 0.9474, 0.592, 50.58, 2.04, 48, 2.6),
    ],
)
def test_worked_numbers(counts, outer, inner, either, directed, total, sd, heard, lost):
    pair = Pair(*counts)
    for share, (value, low, high) in ((pair.outer_share, outer), (pair.inner_share, inner)):
        assert (share.value, share.low, share.high) == pytest.approx((value, low, high), abs=0.0006)
    assert pair.either == pytest.approx(either, abs=5e-5)
    assert pair.directed == pytest.approx(directed, abs=5e-4)
    assert pair.missed.total == pytest.approx(total, abs=5e-3)
    assert pair.chapman_variance**0.5 == pytest.approx(sd, abs=5e-3)
    assert pair.heard == heard
    assert pair.missed.estimate == pytest.approx(lost, abs=0.051)


def test_intervals_are_those_of_scipy():
    from scipy.stats import binomtest

    pair = Pair(95, 60, 55)
    outside = binomtest(55, 60).proportion_ci(method="wilson")
    assert (pair.outer_share.low, pair.outer_share.high) == pytest.approx((outside.low, outside.high))


def test_a_textbook_recapture():
    # from memory: turtles of the encyclopedia article "Mark and recapture": 10 marked, 15 caught, 5 of them
    # marked: Lincoln-Petersen 30, Chapman 28 (28.3 cut off); its variance by Seber's formula
    # 11 * 16 * 5 * 10 / (6 * 6 * 7)
    pair = Pair(10, 15, 5)
    assert pair.lincoln_petersen == 30
    assert int(pair.missed.total) == 28
    assert pair.chapman_variance == pytest.approx(11 * 16 * 5 * 10 / (36 * 7))


def test_none_missed_in_twenty_is_not_none_missed_ever():
    assert round(Pair(20, 20, 20).outer_share.low, 3) == 0.839
    # exact: 1 - 0.05 ** (1 / 20); the rule of three, common practice, says 15 %
    assert round(rule_of_none(20), 3) == 0.139
    assert rule_of_none(0) == 1


def test_birds_that_differ_make_the_estimate_too_high():
    birds = differing(np.array([0.95, 0.30]), np.array([0.8, 0.2]))
    assert (round(birds.mean, 2), round(birds.seeming, 3)) == (0.82, 0.902)
    assert (round(birds.missed, 3), round(birds.missed_seeming, 4)) == (0.1, 0.0095)
    # and so the paired estimate does on simulated crossings
    random = np.random.default_rng(1)
    chance = np.where(random.random(200_000) < 0.8, 0.95, 0.30)
    outer, inner = random.random((2, 200_000)) < chance
    pair = pairs_by(np.zeros(200_000, dtype=np.int64), outer, inner)[0]
    assert pair.outer_share.value == pytest.approx(birds.seeming, abs=0.004)


def test_crossings_are_counted_by_box():
    of = np.array([7, 7, 7, 2, 2])
    outer = np.array([True, True, False, True, False])
    inner = np.array([True, False, True, False, True])
    assert pairs_by(of, outer, inner) == {2: Pair(1, 1, 0), 7: Pair(2, 2, 1)}
    assert Pair(1, 1, 0).lincoln_petersen == float("inf")


def test_more_cannot_be_heard_by_both_than_by_one():
    with pytest.raises(ValueError, match="cannot be among"):
        Pair(3, 9, 4)


def test_three_crossings_are_not_trusted_and_three_hundred_are():
    hits = np.array([0.0, 285.0, 270.0, 288.0, 3.0])
    trials = np.array([3.0, 300.0, 300.0, 300.0, 3.0])
    found = shrunken(hits, trials, 0.9, 4, 30)
    assert 0.6 < found[0] < 0.93  # not 0
    assert found[1] == pytest.approx(0.95, abs=0.005)
    assert found[4] < 0.96  # not 1


@pytest.mark.parametrize("seed", range(3))
def test_drawing_together_beats_each_box_alone(seed):
    random = np.random.default_rng(seed)
    truth = random.beta(18, 3, size=60)
    trials = random.integers(1, 12, size=60).astype(float)
    hits = random.binomial(trials.astype(int), truth).astype(float)
    together = shrunken(hits, trials, 0.9, 4, 100)
    assert ((together - truth) ** 2).mean() < 0.8 * ((hits / trials - truth) ** 2).mean()


@given(st.lists(st.tuples(st.integers(0, 20), st.integers(0, 20)), min_size=1, max_size=8))
def test_what_is_drawn_together_is_a_share(counts):
    hits = np.array([float(min(pair)) for pair in counts])
    trials = np.array([float(max(pair)) for pair in counts])
    found = shrunken(hits, trials, 0.9, 4, 50)
    assert ((found > 0) & (found < 1)).all()

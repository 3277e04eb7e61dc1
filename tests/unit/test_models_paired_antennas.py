"""How well a pair of antennas hears, against worked numbers, textbook examples and a simulation."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.models.interval import exact
from audit.models.paired_antennas import PairedAntennas, paired
from audit.models.reads import Crossings


def crossings(*rows):
    """Crossings of birds: code of the box, heard by both, by the outer, by the inner antenna alone."""
    box, *counts = zip(*rows, strict=True)
    codes = np.array(box, dtype=np.int32), np.arange(len(box), dtype=np.int32)
    return Crossings(*codes, *(np.array(one, dtype=float) for one in (*counts, [0.0] * len(box))))


# worked out for this job beforehand: shares against the score interval of scipy 1.17
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
    pair = PairedAntennas(*counts)
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

    pair = PairedAntennas(95, 60, 55)
    outside = binomtest(55, 60).proportion_ci(method="wilson")
    assert (pair.outer_share.low, pair.outer_share.high) == pytest.approx((outside.low, outside.high))
    # crossings that are worth half as much tell as half as many
    less = PairedAntennas(95, 120, 55, worth=(0.5, 1.0)).outer_share
    half = binomtest(55, 120).proportion_ci(method="wilson")
    assert less.value == 55 / 120
    assert less.high - less.low == pytest.approx(2**0.5 * (half.high - half.low), rel=0.02)


def test_rabbits_dyed_and_driven():
    # read: course notes WILD 8390, "Lincoln-Petersen model", on rabbits of Skalski et al. (1983): 87 dyed, 14
    # driven, 7 of these dyed; approximate 95 % interval of Chapman's number 93.8 to 234.2
    pair = PairedAntennas(87, 14, 7)
    spread = 1.96 * pair.chapman_variance**0.5
    assert pair.missed.total - spread == pytest.approx(93.8, abs=0.05)
    assert pair.missed.total + spread == pytest.approx(234.2, abs=0.05)


def test_trout_of_a_lake():
    # read: an exercise of Grinstead & Snell, Introduction to Probability, worked by a reader: 100 trout
    # tagged, 100 caught, 10 of these tagged: about 1,000 by the plain ratio, 926 by Chapman's estimate
    pair = PairedAntennas(100, 100, 10)
    assert pair.outer / pair.inner_share.value == pytest.approx(1000)
    assert round(pair.missed.total) == 926


def test_variance_is_that_of_another_library():
    # read: manual of the R package recapr, vChapman: (n1+1)(n2+1)(n1-m2)(n2-m2) / ((m2+2)(m2+1)^2)
    assert PairedAntennas(100, 100, 20).chapman_variance == pytest.approx(101 * 101 * 80 * 80 / (22 * 21**2))


def test_none_missed_in_twenty_is_not_none_missed_ever():
    assert round(PairedAntennas(20, 20, 20).outer_share.low, 3) == 0.839
    # one-sided: 1 - 0.05 ** (1 / 20); the rule of three, common practice, says 15 %
    assert round(1 - exact(20, 20, 0.90).low, 3) == 0.139


def test_birds_that_differ_make_the_share_too_high():
    # a fifth of crossings by birds that are heard badly: 0.82 in the mean, E[p^2] / E[p] = 0.902; no antenna
    # hears 0.8 * 0.05^2 + 0.2 * 0.7^2 = 0.10 of crossings
    random = np.random.default_rng(1)
    chance = np.where(random.random(200_000) < 0.8, 0.95, 0.30)
    outer, inner = random.random((2, 200_000)) < chance
    both = int((outer & inner).sum())
    pair = PairedAntennas(int(outer.sum()), int(inner.sum()), both)
    assert pair.outer_share.value == pytest.approx(0.902, abs=0.004)
    assert (~outer & ~inner).mean() == pytest.approx(0.10, abs=0.003)
    assert pair.missed.estimate / 200_000 < 0.02


def test_boxes_are_counted_apart():
    rows = crossings((2, 0.0, 1.2, 0.9), (5, 0.2, 0.1, 0.3), (7, 5.4, 2.6, 0.0), (7, 5.0, 1.0, 0.1))
    found = paired(rows, 0.9)
    told = {box: (pair.outer, pair.inner, pair.both, pair.confidence) for box, pair in found.items()}
    assert told == {2: (1, 1, 0, 0.9), 7: (14, 10, 10, 0.9)}


def birds_of_boxes(random, alike, boxes=150, birds=4, crossed=60):
    """Birds whose chance to be heard by the outer antenna follows a beta distribution about 0.8."""
    chance = random.beta(0.8 * alike, 0.2 * alike, boxes * birds) if alike else np.full(boxes * birds, 0.8)
    both = random.binomial(crossed, chance)
    return crossings(
        *((nr // birds, hit, 0, crossed - hit) for nr, hit in enumerate(both.astype(float).tolist()))
    )


@pytest.mark.parametrize("alike", [None, 8.0, 40.0])
def test_intervals_hold_the_mean_of_all_birds_as_often_as_they_say(alike):
    found = paired(birds_of_boxes(np.random.default_rng(3), alike), 0.95).values()
    held = np.mean([pair.outer_share.low <= 0.8 <= pair.outer_share.high for pair in found])
    assert 0.9 <= held <= 0.99


def test_a_crossing_is_worth_less_where_birds_differ():
    random = np.random.default_rng(4)
    alike, unlike = (
        next(iter(paired(birds_of_boxes(random, one), 0.95).values())).worth for one in (None, 8.0)
    )
    assert alike[0] > 0.9
    # 1 / (1 + (60 - 1) / (8 + 1)), the variance of a beta-binomial count over that of a binomial one
    assert unlike[0] == pytest.approx(1 / (1 + 59 / 9), rel=0.35)


def test_more_cannot_be_heard_by_both_than_by_one():
    with pytest.raises(ValueError, match="cannot be among"):
        PairedAntennas(3, 9, 4)


@given(st.tuples(*[st.integers(0, 400)] * 3).filter(any))
def test_the_antennas_may_be_called_the_other_way(counts):
    both, outer, inner = counts
    one = paired(crossings((1, both, outer, inner)), 0.95)[1]
    other = paired(crossings((1, both, inner, outer)), 0.95)[1]
    assert one.outer_share == other.inner_share
    assert one.missed == other.missed
    assert one.heard == other.heard == both + outer + inner
    assert 0 <= one.outer_share.low <= one.outer_share.high <= 1

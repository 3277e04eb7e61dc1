"""Repeatability and error of repeated measures, against published examples and another library."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import f as f_distribution

from audit.models.measurement_error import technical_error
from audit.models.repeatability import repeatability, repeats_for, repeats_for_error

# Bland, J. M. & Altman, D. G. (1986), Lancet 327, 307-310: peak expiratory flow of 17 people, l/min, twice
# with a large and twice with a mini meter; the table was read on its first author's page,
# www-users.york.ac.uk/~mb55/meas/repeated.htm
LARGE = [
    (494, 490), (395, 397), (516, 512), (434, 401), (476, 470), (557, 611), (413, 415), (442, 431),
    (650, 638),
    (433, 429), (417, 420), (656, 633), (267, 275), (478, 492), (178, 165), (423, 372), (427, 421),
]  # fmt: skip
MINI = [
    (512, 525), (430, 415), (520, 508), (428, 444), (500, 500), (600, 625), (364, 460), (380, 390),
    (658, 642),
    (445, 432), (432, 420), (626, 605), (260, 227), (477, 467), (259, 268), (350, 370), (451, 443),
]  # fmt: skip
# Shrout, P. E. & Fleiss, J. L. (1979), Psychological Bulletin 86, 420-428, table 2: six targets, four judges
JUDGED = [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]
# Bland, J. M. & Altman, D. G. (1996), BMJ 313, 744, table 1: peak expiratory flow of 20 children, l/min; the
# first 16 rows read, the last four from memory: published sums below hold for all of them
CHILDREN = [
    (190, 220, 200, 200), (220, 200, 240, 230), (260, 260, 240, 280), (210, 300, 280, 265),
    (270, 265, 280, 270), (280, 280, 270, 275), (260, 280, 280, 300), (275, 275, 275, 305),
    (280, 290, 300, 290), (320, 290, 300, 290), (300, 300, 310, 300), (270, 250, 330, 370),
    (320, 330, 330, 330), (335, 320, 335, 375), (350, 320, 340, 365), (360, 320, 350, 345),
    (330, 340, 380, 390), (335, 385, 360, 370), (400, 420, 425, 420), (430, 460, 480, 470),
]  # fmt: skip
# Sokal, R. R. & Rohlf, F. J., Biometry, box 9.1, the analysis that Lessells & Boag (1987) take repeatability
# from: widths of larval ticks, um, of four rabbits, unequal numbers. Values read where they are reprinted in
# a public repository; the published figures of the box from memory
TICKS = [
    (380, 376, 360, 368, 372, 366, 374, 382),
    (350, 356, 358, 376, 338, 342, 366, 350, 344, 364),
    (354, 360, 362, 352, 366, 372, 362, 344, 342, 358, 351, 348, 348),
    (376, 344, 342, 372, 374, 360),
]


def flat(rows):
    values = np.array([value for row in rows for value in row], dtype=float)
    return values, np.repeat(np.arange(len(rows)), [len(row) for row in rows])


def test_the_judges_of_shrout_and_fleiss():
    told = repeatability(*flat(JUDGED))
    # ICC(1,1) = .17; mean squares 11.24 and 6.26, their tables 3 and 4
    assert round(told.value, 2) == 0.17
    assert round(told.mean_square_between, 2) == 11.24
    assert round(told.mean_square_within, 2) == 6.26
    # pingouin 0.7.0, intraclass_corr, ICC(1,1): 0.16574177, p 0.16476881, interval -0.13 to 0.72
    assert told.value == pytest.approx(0.16574177, abs=1e-8)
    assert told.p_value == pytest.approx(0.16476881, abs=1e-8)
    assert (round(told.low, 2), round(told.high, 2)) == (-0.13, 0.72)


def test_unequal_groups_of_sokal_and_rohlf():
    told = repeatability(*flat(TICKS))
    # mean squares 602.6 and 114.5, their ratio 5.26, n0 = 9.009; 32 % of the variance is added among hosts
    assert round(told.mean_square_between, 1) == 602.6
    assert round(told.mean_square_within, 1) == 114.5
    assert round(told.mean_square_between / told.mean_square_within, 2) == 5.26
    assert round(told.n0, 3) == 9.009
    assert told.between == pytest.approx(54.19, abs=0.05)
    assert round(100 * told.value) == 32
    # measurement error in percent, Bailey & Byrnes (1990), as remembered: the rest of the variance
    assert 100 * told.within / (told.within + told.between) == pytest.approx(100 * (1 - told.value))


def test_the_children_of_bland_and_altman():
    values, child = flat(CHILDREN)
    error, told = technical_error(values, child), repeatability(values, child)
    # published: within-subject standard deviation 21.5 l/min on 60 degrees of freedom, mean square 460.52,
    # ratio of mean squares 32.6, two readings of a child within 60 l/min (2.77 standard deviations)
    assert round(error.value, 1) == 21.5
    assert error.dof == 60
    assert round(told.mean_square_within, 2) == 460.52
    assert round(told.mean_square_between / told.mean_square_within, 1) == 32.6
    assert error.largest_difference == pytest.approx(60, abs=0.6)
    # pingouin 0.7.0, intraclass_corr, ICC(1,1): 0.8876663544, interval 0.80 to 0.95
    assert told.value == pytest.approx(0.8876663544, abs=1e-9)
    assert (round(told.low, 2), round(told.high, 2)) == (0.8, 0.95)
    # ICC(1,k), the mean of four measures: 0.9693328762; the number of measures that is as good is four
    assert repeats_for(told.value, 0.9693328762 - 1e-9) == 4


@pytest.mark.parametrize(("rows", "published"), [(LARGE, 15.3), (MINI, 19.9)])
def test_the_error_of_both_meters(rows, published):
    # Bland & Altman, in texts after 1986, give 15.3 and 19.9 l/min; from memory
    told = technical_error(*flat(rows))
    assert round(told.value, 1) == published
    assert told.dof == 17
    pairs = np.array(rows, dtype=float)
    d = pairs[:, 0] - pairs[:, 1]
    assert told.value == pytest.approx(math.sqrt(float((d**2).sum()) / (2 * len(d))))
    # the repeatability coefficient is 2.77 times the error
    assert told.largest_difference / told.value == pytest.approx(2.77, abs=0.002)


def test_unequal_repeats_against_another_library():
    from statsmodels.formula.api import ols
    from statsmodels.stats.anova import anova_lm

    rng = np.random.default_rng(7)
    bird = np.repeat(np.arange(12), rng.integers(2, 6, 12))
    values = 180 + rng.normal(0, 9, 12)[bird] + rng.normal(0, 2, len(bird))
    frame = pd.DataFrame({"v": values, "bird": bird.astype(str)})
    table = anova_lm(ols("v ~ C(bird)", frame).fit())
    told = repeatability(values, bird)
    assert told.mean_square_between == pytest.approx(table["mean_sq"].iloc[0])
    assert told.mean_square_within == pytest.approx(table["mean_sq"].iloc[1])
    assert told.p_value == pytest.approx(table["PR(>F)"].iloc[0], abs=1e-12)
    # Lessells, C. M. & Boag, P. T. (1987), Auk 104, 116-121, equations 2 to 5
    n = np.bincount(bird)
    n0 = (n.sum() - (n**2).sum() / n.sum()) / (len(n) - 1)
    among = (table["mean_sq"].iloc[0] - table["mean_sq"].iloc[1]) / n0
    assert told.n0 == pytest.approx(n0)
    assert told.value == pytest.approx(among / (among + table["mean_sq"].iloc[1]))
    assert technical_error(values, bird).value == pytest.approx(math.sqrt(table["mean_sq"].iloc[1]))


def test_with_equal_repeats_the_interval_is_that_of_f():
    told = repeatability(*flat(LARGE))
    n, k = len(LARGE), 2
    ratio = told.mean_square_between / told.mean_square_within
    for end, part in ((told.low, 0.975), (told.high, 0.025)):
        by_f = ratio / f_distribution.ppf(part, n - 1, n * (k - 1))
        assert end == pytest.approx((by_f - 1) / (by_f + k - 1), abs=1e-9)


def test_the_interval_holds_the_truth_as_often_as_it_says():
    rng = np.random.default_rng(11)
    bird = np.repeat(np.arange(8), [2, 2, 2, 3, 3, 4, 6, 9])
    truth, held, sigma_held, rounds = 0.8, 0, 0, 400
    for _ in range(rounds):
        values = rng.normal(0, 2, 8)[bird] + rng.normal(0, 1, len(bird))
        told = repeatability(values, bird)
        held += told.low <= truth <= told.high
        error = technical_error(values, bird)
        sigma_held += error.low <= 1 <= error.high
    # 0.95 of 400, three standard errors wide
    assert 0.917 <= held / rounds <= 0.983
    assert 0.917 <= sigma_held / rounds <= 0.983


birds = st.lists(st.lists(st.integers(100, 260), min_size=2, max_size=4), min_size=3, max_size=8).filter(
    lambda rows: len({value for row in rows for value in row}) > 1
)


@given(birds, st.floats(-50, 50), st.floats(0.1, 9), st.randoms(use_true_random=False))
@settings(max_examples=30)
def test_shift_scale_and_order_change_nothing(rows, shift, scale, chance):
    values, bird = flat(rows)
    first = repeatability(values, bird)
    order = list(range(len(values)))
    chance.shuffle(order)
    moved = repeatability((values * scale + shift)[order], (99 - bird)[order])
    for one, other in ((first.value, moved.value), (first.low, moved.low), (first.high, moved.high)):
        assert one == pytest.approx(other, abs=1e-6)
    assert -1 <= first.low <= first.high <= 1
    if len({len(row) for row in rows}) == 1:
        # of unequal repeats the estimate may lie below what any variance allows, the interval does not
        assert first.low - 1e-9 <= first.value <= first.high + 1e-9
    before, after = (
        technical_error(values, bird),
        technical_error((values * scale + shift)[order], bird[order]),
    )
    assert after.value == pytest.approx(before.value * scale, abs=1e-6)
    assert before.low <= before.value <= before.high


def test_birds_measured_once_and_missing_values_are_left_out():
    values, bird = flat(LARGE)
    more = np.r_[values, 300.0, np.nan], np.r_[bird, 90, 91]
    assert repeatability(*more) == repeatability(values, bird)
    assert technical_error(*more) == technical_error(values, bird)


def test_repeats_that_differ_more_than_birds_are_below_nought():
    told = repeatability([1, 9, 2, 8, 1, 9], [0, 0, 1, 1, 2, 2])
    assert told.value < 0
    assert told.between == 0
    assert told.low >= -1


def test_repeats_that_never_differ():
    told = repeatability([180.1, 180.1, 190.3, 190.3], [0, 0, 1, 1])
    assert (told.value, told.low, told.high, told.within) == (1, 1, 1, 0)
    error = technical_error([180.1, 180.1, 190.3, 190.3], [0, 0, 1, 1])
    assert error.value == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize(
    ("values", "bird", "why"),
    [
        ([1, 2], [0, 0], "two birds"),
        ([1, 2, 3], [0, 1, 2], "two birds"),
        ([], [], "two birds"),
        ([np.nan, 2, 3, 3], [0, 0, 1, 1], "two birds"),
        ([0.1, 0.1, 0.1, 0.1], [0, 0, 1, 1], "all values are equal"),
    ],
)
def test_what_tells_nothing_is_refused(values, bird, why):
    with pytest.raises(ValueError, match=why):
        repeatability(values, bird)


def test_nobody_measured_twice():
    with pytest.raises(ValueError, match="twice"):
        technical_error([1, 2, np.nan], [0, 1, 1])


def test_a_mean_of_nought_has_no_relative_error():
    assert math.isnan(technical_error([-1, 1], [0, 0]).relative)


@given(st.floats(0.01, 0.99), st.floats(0.05, 0.99))
@settings(max_examples=40)
def test_the_number_of_repeats_is_the_least_that_does(single, wanted):
    k = repeats_for(single, wanted)

    def mean_of(k):
        return k * single / (1 + (k - 1) * single)

    assert mean_of(k) >= wanted - 1e-9
    assert k == 1 or mean_of(k - 1) < wanted


def test_repeats_for_an_error():
    assert [repeats_for_error(error, 1.5) for error in (0, 1.5, 1.6, 3.0, 3.1)] == [1, 1, 2, 4, 5]
    with pytest.raises(ValueError, match="no error"):
        repeats_for_error(1, 0)
    with pytest.raises(ValueError, match="no repeatability"):
        repeats_for(0.5, 1)

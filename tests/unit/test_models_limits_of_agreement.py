"""Limits of agreement, pairs that stand out and bias of observers, against published examples."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import linregress, nct, ttest_1samp

from audit.models import odd_pairs as module
from audit.models.limits_of_agreement import limits_of_agreement, slope_on_mean
from audit.models.observer_bias import biases
from audit.models.observers_alike import alike

# as in test_models_repeatability: Bland & Altman (1986), first measures with both meters
LARGE = np.array(
    [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427], dtype=float
)
MINI = np.array(
    [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451], dtype=float
)
JUDGED = [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]


def test_the_peak_flow_of_bland_and_altman():
    told = limits_of_agreement(LARGE - MINI)
    # published: mean difference -2.1, its SD 38.8, interval of the bias -22.0 to 17.8
    assert round(told.bias.value, 1) == -2.1
    assert round(told.sd, 1) == 38.8
    assert round(told.bias.low, 1) == pytest.approx(-22.0, abs=0.15)
    assert round(told.bias.high, 1) == pytest.approx(17.8, abs=0.15)
    # published limits, two standard deviations off: -79.7 and 75.5 (75.4 in the abstracts); ours are 1.96
    assert -2.1 - 2 * round(told.sd, 1) == pytest.approx(-79.7)
    assert told.lower.value == pytest.approx(told.bias.value - 1.96 * told.sd, abs=0.01)
    # published approximate intervals of the limits: -114.3 to -45.1 and 40.9 to 110.1; the exact ones lie
    # farther out, and less far in
    assert told.lower.low < -110
    assert -60 < told.lower.high < -45.1
    assert 40.9 < told.upper.low < 60
    assert told.upper.high > 106


def test_the_interval_of_a_limit_is_that_of_a_noncentral_t():
    told = limits_of_agreement(LARGE - MINI, level=0.9)
    n = len(LARGE)
    for end, part in ((told.upper.low, 0.05), (told.upper.high, 0.95)):
        by_scipy = nct.ppf(part, n - 1, 1.959963984540054 * math.sqrt(n)) * told.sd / math.sqrt(n)
        assert end == pytest.approx(told.bias.value + by_scipy, rel=1e-9)
    assert told.p_value == pytest.approx(ttest_1samp(LARGE - MINI, 0).pvalue)


def test_limits_are_held_as_often_as_they_say():
    rng = np.random.default_rng(3)
    truth, rounds = 1.959963984540054, 500
    held = sum(
        told.upper.low <= truth <= told.upper.high
        for told in (limits_of_agreement(rng.normal(0, 1, 9)) for _ in range(rounds))
    )
    assert 0.92 <= held / rounds <= 0.98


differences = st.lists(st.integers(-9, 9), min_size=3, max_size=12)


@given(differences, st.integers(-20, 20), st.sampled_from([0.5, 2.0, 10.0]))
@settings(max_examples=30)
def test_shift_and_scale_carry_over(d, shift, scale):
    first = limits_of_agreement(d)
    moved = limits_of_agreement(np.array(d[::-1]) * scale + shift)
    for name in ("bias", "lower", "upper"):
        one, other = getattr(first, name), getattr(moved, name)
        for end in ("value", "low", "high"):
            assert getattr(other, end) == pytest.approx(getattr(one, end) * scale + shift, abs=1e-8)
    turned = limits_of_agreement(-np.array(d))
    assert turned.lower.low == pytest.approx(-first.upper.high, abs=1e-9)
    assert 0 <= first.p_value <= 1


def test_pairs_that_all_differ_alike():
    told = limits_of_agreement([2.0, 2.0, 2.0, np.nan])
    assert (told.bias.low, told.lower.low, told.upper.high, told.p_value, told.pairs) == (2, 2, 2, 0, 3)
    assert limits_of_agreement([0, 0, 0]).p_value == 1


def test_two_pairs_say_nothing_of_limits():
    with pytest.raises(ValueError, match="three pairs"):
        limits_of_agreement([1, 2, np.nan])


def test_the_slope_against_another_library():
    told = slope_on_mean(LARGE, MINI)
    other = linregress((LARGE + MINI) / 2, LARGE - MINI)
    assert told.value == pytest.approx(other.slope)
    assert told.p_value == pytest.approx(other.pvalue)
    assert slope_on_mean([1, 2], [1, 2]) is None
    assert slope_on_mean([1, 2, 3], [3, 2, 1]) is None
    exact = slope_on_mean([2, 4, 6], [1, 2, 3])
    assert (round(exact.value, 6), exact.p_value < 1e-6) == (0.666667, True)


def odd_pairs(differences, unit, chance):
    return module.odd_pairs(differences, unit, chance, fewest=5, most=0.2)


def test_the_outliers_of_rosner():
    # NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.5.17.3, data of Rosner (1983); values from
    # memory: of 54 values three stand out at the level of 0.05
    text = """
        -0.25 0.68 0.94 1.15 1.20 1.26 1.26 1.34 1.38 1.43 1.49 1.49 1.55 1.56 1.58 1.65 1.69 1.70 1.76
        1.77 1.81 1.91 1.94 1.96 1.99 2.06 2.09 2.10 2.14 2.15 2.23 2.24 2.26 2.35 2.37 2.40 2.47 2.54
        2.62 2.64 2.90 2.92 2.92 2.93 3.21 3.26 3.30 3.59 3.68 4.30 4.64 5.34 5.42 6.01
    """
    values = np.array([float(one) for one in text.split()])
    assert values[odd_pairs(values, 0, 0.05)].tolist() == [5.34, 5.42, 6.01]


def test_one_slip_stands_out_and_rounding_does_not():
    rng = np.random.default_rng(5)
    usual = np.rint(rng.normal(0, 1.4, 14))
    assert not odd_pairs(usual, 1, 0.01).any()
    spoilt = usual.copy()
    spoilt[4] += 18
    assert np.flatnonzero(odd_pairs(spoilt, 1, 0.01)).tolist() == [4]
    spoilt[7] -= 90
    assert np.flatnonzero(odd_pairs(spoilt, 1, 0.01)).tolist() == [4, 7]
    assert not odd_pairs([0, 0, 0, 0, 0, 1], 1, 0.01).any()
    assert not odd_pairs([0, 0, 0, 90], 1, 0.01).any()
    assert not odd_pairs([0, 0, 0, 0, 0], 0, 0.01).any()
    assert not odd_pairs([np.nan] * 9, 1, 0.01).any()


def test_usual_pairs_stand_out_as_seldom_as_said():
    rng = np.random.default_rng(8)
    marked = sum(odd_pairs(rng.normal(0, 1, 20), 0, 0.05).any() for _ in range(600))
    # the procedure is known to hold its level to about a hundredth at this size
    assert 0.02 <= marked / 600 <= 0.085


def test_observers_who_measured_all_birds():
    bird, who = np.repeat(np.arange(6), 4), np.tile(np.arange(4), 6)
    told = biases(np.ravel(JUDGED), bird, who)
    # against the means of the table
    means = np.array(JUDGED, dtype=float).mean(axis=0)
    others = (means.sum() - means) / 3
    assert [one.value for one in told] == pytest.approx((means - others).tolist())
    assert {one.dof for one in told} == {15}
    # mean square of the error 1.02, Shrout & Fleiss (1979), table 3: standard error of such a contrast
    from scipy.stats import t

    error = math.sqrt(1.0194444 / 6 * (1 + 1 / 3))
    reach = t.ppf(1 - 0.05 / 2 / 4, 15) * error
    assert told[0].high - told[0].value == pytest.approx(reach, rel=1e-5)


def test_unequal_tables_against_another_library():
    from statsmodels.formula.api import ols

    rng = np.random.default_rng(2)
    cells = [(b, o) for b in range(10) for o in range(3) if rng.random() < 0.8]
    bird, who = np.array(cells).T
    values = 180 + rng.normal(0, 10, 10)[bird] + np.array([0, 1.5, -1])[who] + rng.normal(0, 1, len(cells))
    told = biases(values, bird, who, against=0)
    frame = pd.DataFrame({"v": values, "b": bird, "o": who})
    fit = ols("v ~ C(b) + C(o)", frame).fit()
    assert [one.value for one in told] == pytest.approx([fit.params["C(o)[T.1]"], fit.params["C(o)[T.2]"]])
    low, high = fit.conf_int(0.025).loc["C(o)[T.1]"]
    assert (told[0].low, told[0].high) == pytest.approx((low, high))
    assert told[0].p_value == pytest.approx(min(1, 2 * fit.pvalues["C(o)[T.1]"]))
    assert told[0].error == pytest.approx(math.sqrt(fit.mse_resid))
    assert [one.against for one in told] == [0, 0]


def test_two_observers_are_one_comparison_as_in_a_paired_test():
    values = np.r_[LARGE, MINI]
    bird, who = np.tile(np.arange(17), 2), np.repeat([0, 1], 17)
    (one,) = biases(values, bird, who)
    told = limits_of_agreement(LARGE - MINI)
    assert (one.value, one.low, one.high) == pytest.approx((told.bias.value, told.bias.low, told.bias.high))
    assert one.p_value == pytest.approx(told.p_value)
    assert (one.observer, one.against, one.birds) == (0, 1, 17)


def test_many_repeats_by_one_person_count_once():
    few = biases([11, 10, 21, 20, 32, 30], [0, 0, 1, 1, 2, 2], [0, 1, 0, 1, 0, 1])
    many = biases([11, 11, 11, 10, 21, 20, 32, 30], [0, 0, 0, 0, 1, 1, 2, 2], [0, 0, 0, 1, 0, 1, 0, 1])
    assert few == many


def test_observers_whom_no_bird_joins():
    with pytest.raises(ValueError, match="share no bird"):
        biases([1, 2, 3, 4], [0, 0, 1, 1], [0, 1, 2, 3])
    with pytest.raises(ValueError, match="held against"):
        biases([1, 2, 3, 4, 5], [0, 0, 1, 1, 2], [0, 1, 0, 1, 2], against=2)
    assert biases([1, 2, 3], [0, 1, 2], [0, 0, 0]) == ()
    assert biases([1, 2], [0, 0], [0, 1]) == ()
    assert biases([], [], []) == ()


def test_single_raters_of_shrout_and_fleiss():
    told = alike(JUDGED)
    # ICC(2,1) = .29 and ICC(3,1) = .71; intervals by pingouin 0.7.0, intraclass_corr: ICC(A,1) 0.02 to 0.76,
    # ICC(C,1) 0.34 to 0.95
    assert (round(told.agreement, 2), round(told.consistency, 2)) == (0.29, 0.71)
    assert (round(told.agreement_low, 2), round(told.agreement_high, 2)) == (0.02, 0.76)
    assert (round(told.consistency_low, 2), round(told.consistency_high, 2)) == (0.34, 0.95)
    assert told.agreement == pytest.approx(0.28976378, abs=1e-8)
    assert told.consistency == pytest.approx(0.71484071, abs=1e-8)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_observers_alike_against_another_library(seed):
    from statsmodels.formula.api import ols
    from statsmodels.stats.anova import anova_lm

    rng = np.random.default_rng(seed)
    n, k = 9, 3
    table = 190 + rng.normal(0, 8, (n, 1)) + rng.normal(0, 2, (1, k)) + rng.normal(0, 1.5, (n, k))
    rows = [(b, o, table[b, o]) for b in range(n) for o in range(k)]
    frame = pd.DataFrame(rows, columns=["b", "o", "v"])
    squares = anova_lm(ols("v ~ C(b) + C(o)", frame).fit())["mean_sq"]
    birds, people, error = squares["C(b)"], squares["C(o)"], squares["Residual"]
    told = alike(table)
    # Shrout & Fleiss (1979): ICC(2,1) and ICC(3,1) from the mean squares
    assert told.agreement == pytest.approx(
        (birds - error) / (birds + (k - 1) * error + k * (people - error) / n)
    )
    assert told.consistency == pytest.approx((birds - error) / (birds + (k - 1) * error))


def test_tables_that_tell_nothing():
    assert alike([[1, 2]]) is None
    assert alike([[1], [2]]) is None
    assert alike([[1, 2], [2, 3], [5, 6]]) is None
    assert alike([]) is None
    whole = alike([*JUDGED, [1, np.nan, 2, 3]])
    assert whole == alike(JUDGED)

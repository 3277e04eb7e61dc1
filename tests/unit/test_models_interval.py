"""The score interval and the exact one of a share, against a published table and another library."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest

from audit.models.interval import exact, wilson


@pytest.mark.parametrize(
    ("hits", "trials", "low", "high"),
    [
        # Newcombe, R. G. (1998). Two-sided confidence intervals for the single proportion. Statistics in
        # Medicine 17, 857-872, table I, method 3 (score, after Wilson 1927); values from memory
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0000, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_published_intervals(hits, trials, low, high):
    share = wilson(hits, trials, 0.95)
    assert (round(share.low, 4), round(share.high, 4)) == (low, high)


@pytest.mark.parametrize(("ours", "theirs"), [(wilson, "wilson"), (exact, "exact")])
@given(
    trials=st.integers(1, 2000),
    part=st.floats(0, 1),
    confidence=st.sampled_from([0.5, 0.9, 0.95, 0.99]),
)
def test_the_same_as_another_library(ours, theirs, trials, part, confidence):
    hits = round(trials * part)
    share = ours(hits, trials, confidence)
    other = binomtest(hits, trials).proportion_ci(confidence, method=theirs)
    assert share.low == pytest.approx(other.low, abs=1e-9)
    assert share.high == pytest.approx(other.high, abs=1e-9)
    assert 0 <= share.low <= share.value <= share.high <= 1


@pytest.mark.parametrize("of", [wilson, exact])
def test_without_trials_nothing_is_known(of):
    share = of(0, 0, 0.95)
    assert math.isnan(share.value)
    assert (share.low, share.high) == (0, 1)


@pytest.mark.parametrize("of", [wilson, exact])
@pytest.mark.parametrize(("hits", "trials"), [(2, 1), (-1, 3)])
def test_what_is_no_share(of, hits, trials):
    with pytest.raises(ValueError, match="no share"):
        of(hits, trials, 0.95)

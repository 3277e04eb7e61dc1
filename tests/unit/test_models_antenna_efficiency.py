"""How well a pair of antennas hears, where few crossings tell."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.models.antenna_efficiency import shrunken


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

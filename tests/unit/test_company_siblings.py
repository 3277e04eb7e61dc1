"""The siblings of each nestling, by plain loops."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.models.kinship import kin_of
from audit.rules.companions.siblings import ages_of_siblings, young_in_brood


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000), st.integers(0, 20))
def test_they_are_the_others_of_the_brood(seed: int, n: int) -> None:
    rng = np.random.default_rng(seed)
    brood = rng.integers(0, 4, n)
    bird, since = brood * 10 + rng.integers(0, 4, n), rng.integers(0, 3, n) * 7.0
    hatched = np.where(rng.random(n) < 0.3, np.nan, rng.normal(30, 5, n))
    kin = kin_of(brood, bird, brood, most=64)
    young = young_in_brood(kin)
    youngest, oldest = ages_of_siblings(hatched, since, kin)
    for k in range(n):
        assert young[k] == len(set(bird[brood == brood[k]]))
        mates = {int(one) for one in bird[(brood == brood[k]) & (bird != bird[k])]}
        ages = [hatched[(bird == mate) & np.isfinite(hatched)] for mate in sorted(mates)]
        means = [one.mean() + since[k] for one in ages if len(one)]
        assert youngest[k] == pytest.approx(min(means, default=np.nan), nan_ok=True)
        assert oldest[k] == pytest.approx(max(means, default=np.nan), nan_ok=True)

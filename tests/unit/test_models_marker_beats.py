"""Tags that cannot beat are passed over early: never one that the whole rule calls a marker."""

from __future__ import annotations

import numpy as np
import pytest

from audit.models.marker_beats import find_beat, one_a_beat

_SAME = 0.03


def _by_the_rule(times: np.ndarray) -> float | None:
    """The interval as the notes of `find_beat` have it: the commonest gap, kept by half of all."""
    gaps = sorted(np.diff(one_a_beat(times)).tolist())
    alike = [[other for other in gaps if one <= other <= one * (1 + _SAME)] for one in gaps]
    interval = float(np.median(max(alike, key=len)))
    kept = 0
    for gap in gaps:
        number = round(gap / interval)
        kept += 1 <= number <= 5 and abs(gap - number * interval) <= _SAME * interval
    return interval if 2 * kept >= len(gaps) else None


@pytest.mark.parametrize("share", [0.3, 0.5, 0.6, 0.9])
def test_an_interval_is_found_just_where_the_rule_has_one(share: float) -> None:
    rng = np.random.default_rng(round(100 * share))
    told = []
    for _ in range(120):
        n = int(rng.integers(6, 40))
        kept = rng.random(n) < share
        # as even over one to five intervals, and as far off, as the rule allows
        number = rng.integers(1, rng.integers(2, 7), n)
        even = 600_000 * (number + rng.uniform(-_SAME, _SAME, n))
        gaps = np.where(kept, even, rng.lognormal(13, 1.0, n) + 6000)
        times = np.cumsum(gaps).astype(np.int64)
        found = find_beat(times, 5, 0.9, 10)
        told.append(_by_the_rule(times))
        assert (None if found is None else found.interval) == told[-1]

    assert any(told)
    assert share > 0.5 or None in told


def test_the_least_even_tag_that_the_rule_has_is_found() -> None:
    # half of the gaps are kept, and no number of intervals is commoner than another
    even = np.repeat([1, 2, 3, 4, 5], 4)
    gaps = 600_000 * np.concatenate([even, 5.6 * 1.1 ** np.arange(20)])
    times = np.cumsum([0, *gaps]).astype(np.int64)

    assert _by_the_rule(times) == pytest.approx(600_000)
    assert find_beat(times, 5, 0.9, 10) is not None


def test_a_daily_beat_is_told_by_a_week_and_a_bird_that_comes_at_one_hour_is_not():
    noon = np.arange(10) * 86_400_000 + 12 * 3_600_000
    jitter = np.random.default_rng(4).integers(0, 1500, 10)
    found = find_beat(noon + jitter, 20, 0.9, 10)
    assert found is not None
    assert found.interval == pytest.approx(86_400_000, abs=2000)
    late = np.random.default_rng(5).integers(0, 30 * 60_000, (200, 10))
    assert not any(find_beat(noon + one, 20, 0.9, 10) for one in late)
    assert find_beat(np.arange(10) * 900_000, 20, 0.9, 10) is None

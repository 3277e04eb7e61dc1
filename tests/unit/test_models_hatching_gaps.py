"""How far apart the young of a brood hatch: against what is counted out, and what Swiss broods showed."""

from __future__ import annotations

import numpy as np
import pytest

from audit.models.hatching_gaps import HatchingGaps, log_age_beside, variance_within

#: Gaps between ringed siblings of Swiss barn owls (public table of 67 broods, ages read off wings; computed).
SWISS = HatchingGaps(2.9, 2.0)


@pytest.mark.parametrize("young", [2, 3, 5, 9])
def test_the_variance_is_that_of_young_hatched_one_after_the_other(young: int) -> None:
    rng = np.random.default_rng(young)
    shape, scale = (SWISS.mean / SWISS.sd) ** 2, SWISS.sd**2 / SWISS.mean
    hatched = np.cumsum(rng.gamma(shape, scale, (40_000, young)), axis=1)
    assert variance_within(SWISS, young) == pytest.approx(hatched.var(axis=1, ddof=1).mean(), rel=0.03)


@pytest.mark.parametrize(("young", "spread"), [(3, 5.3), (4, 9.7), (5, 12.3)])
def test_broods_spread_as_swiss_ones_did(young: int, spread: float) -> None:
    """Oldest less youngest by ringed young, of the same table: 5.3, 9.7 and 12.3 days (SD 2.9, 3.0, 2.4)."""
    assert SWISS.mean * (young - 1) == pytest.approx(spread, abs=1.1)


def test_beyond_the_last_sibling_lies_one_gap() -> None:
    ages = np.arange(0.0, 61.0)
    found = log_age_beside(SWISS, ages, np.array([30.0]), np.array([34.0]))[0]
    assert (found[29:36] == 0).all()
    assert (np.diff(found[36:]) < 0).all()
    assert (np.diff(found[:29]) > 0).all()
    # of gaps of 8.5 days and more the share that the gamma distribution gives
    gaps = np.random.default_rng(1).gamma((2.9 / 2) ** 2, 4 / 2.9, 200_000)
    usual = np.exp(found[34:])
    usual[:2] = gamma_density(np.array([0.0, 1.0]))
    assert usual[9:].sum() / usual.sum() == pytest.approx((gaps > 8.5).mean(), abs=0.004)


def gamma_density(days: np.ndarray) -> np.ndarray:
    """Density of a gap over the greatest one, below the likeliest gap."""
    shape, scale = (2.9 / 2) ** 2, 4 / 2.9
    top = (shape - 1) * scale
    with np.errstate(divide="ignore"):
        return np.exp((shape - 1) * np.log(days / top) - (days - top) / scale)


def test_gaps_that_vary_much_fall_from_nought_on() -> None:
    found = log_age_beside(HatchingGaps(1.0, 1.0), np.arange(5.0), np.array([2.0]), np.array([2.0]))[0]
    assert found == pytest.approx([-2, -1, 0, -1, -2])


def test_stretched_gaps_spread_as_many_times_as_far() -> None:
    assert variance_within(SWISS.stretched(2), 4) == pytest.approx(4 * variance_within(SWISS, 4))
    assert variance_within(SWISS, 1) == variance_within(SWISS, 2)

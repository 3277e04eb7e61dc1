"""Growth curves: identities, monotony, factors."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.models.growth import (
    Curve,
    Recession,
    Spread,
    age_of,
    age_sd,
    mass_for_wing,
    mean,
    pace,
    population_factor,
    spread,
)

WING = Curve(
    "offset_gompertz",
    Spread("saturating", start=1.5, rise=7.5, scale=12),
    0,
    75,
    asymptote=313.6,
    rate=0.0537,
    inflection=28.44,
    offset=9,
)
MASS = Curve(
    "offset_gompertz",
    Spread("ramp", start=2.5, slope=1.35, cap=35),
    0,
    75,
    asymptote=380.2,
    rate=0.1016,
    inflection=13.81,
    offset=9.65,
    recession=Recession(0.185, 62.5, 8),
)
LOGISTIC = Curve(
    "logistic",
    Spread("share", days=(0, 28), values=(0.17, 0.11)),
    0,
    28,
    asymptote=205.9,
    rate=0.2925,
    inflection=7.88,
)
TABLE = Curve(
    "table", Spread("table", days=(8, 12), values=(4, 6)), 8, 12, days=(8, 10, 12), values=(31, 39, 50)
)

ages = st.floats(0, 75)


@given(ages)
def test_the_age_of_a_mean_wing_is_the_age_it_was_taken_at(age: float) -> None:
    assert age_of(WING, mean(WING, age)) == pytest.approx(age, abs=1e-6)


@given(st.floats(0, 28))
def test_the_same_holds_for_a_logistic_curve(age: float) -> None:
    assert age_of(LOGISTIC, mean(LOGISTIC, age)) == pytest.approx(age, abs=1e-6)


@given(st.floats(8, 12))
def test_the_same_holds_for_a_table(age: float) -> None:
    assert age_of(TABLE, mean(TABLE, age)) == pytest.approx(age, abs=1e-9)


@given(ages, ages)
def test_wings_only_grow(one: float, other: float) -> None:
    young, old = sorted((one, other))
    assert mean(WING, young) <= mean(WING, old)
    assert pace(WING, young) > 0


@given(st.floats(-1000, 1000))
def test_the_age_of_any_length_stays_within_the_curve(length: float) -> None:
    assert 0 <= float(age_of(WING, length)) <= 75


def test_a_mass_before_fledging_has_no_single_age() -> None:
    with pytest.raises(ValueError, match="two ages"):
        age_of(MASS, 340)


def test_a_falling_table_has_no_single_age() -> None:
    falling = Curve("table", Spread("table", days=(0,), values=(1,)), 0, 2, days=(0, 1, 2), values=(1, 3, 2))
    with pytest.raises(ValueError, match="two ages"):
        age_of(falling, 2)


def test_missing_values_stay_missing() -> None:
    assert np.isnan(age_of(WING, np.array([np.nan, 205.0]))).tolist() == [True, False]
    assert np.isnan(age_of(TABLE, np.nan))
    assert np.isnan(mass_for_wing(MASS, WING, np.nan).mean)


def test_recession_takes_mass_away_before_fledging() -> None:
    assert mean(MASS, 60) < mean(MASS, 49) < 360
    assert mean(MASS, 75) < mean(MASS, 60)


@pytest.mark.parametrize(
    ("curve", "age", "sd"), [(WING, 0, 1.5), (MASS, 10, 16.0), (MASS, 50, 35), (TABLE, 10, 5)]
)
def test_spreads(curve: Curve, age: float, sd: float) -> None:
    assert spread(curve, age) == pytest.approx(sd)


def test_a_spread_may_be_a_share_of_the_mean() -> None:
    assert spread(LOGISTIC, 28) == pytest.approx(0.11 * mean(LOGISTIC, 28))


def test_a_wing_ahead_of_its_age_widens_the_mass_where_mass_still_grows() -> None:
    young, old = mass_for_wing(MASS, WING, 60), mass_for_wing(MASS, WING, 230)
    assert young.sd > spread(MASS, young.age) * 1.1
    assert old.sd == pytest.approx(spread(MASS, old.age), rel=0.01)
    assert age_sd(WING, 28) == pytest.approx(1.4, abs=0.2)


def test_a_small_season_is_not_trusted_much() -> None:
    heavy = np.log(1.2)
    few = population_factor([heavy], [0], prior_sd=0.11, group_sd=0.1, clip=2.5)
    many = population_factor([heavy] * 30, range(30), prior_sd=0.11, group_sd=0.1, clip=2.5)
    assert 1.0 < few.value < 1.1 < many.value < 1.2
    assert few.sd > many.sd
    assert population_factor([], [], prior_sd=0.11, group_sd=0.1, clip=2.5).value == 1.0


def test_one_brood_counts_once_however_large() -> None:
    one = population_factor([0.2] * 9, [0] * 9, prior_sd=0.11, group_sd=0.1, clip=2.5)
    assert one.groups == 1
    assert one.value == population_factor([0.2], [0], prior_sd=0.11, group_sd=0.1, clip=2.5).value


@given(st.lists(st.floats(-0.3, 0.3), min_size=9, max_size=30), st.floats(-9, 9))
def test_one_wrong_cell_hardly_moves_the_factor(ratios: list[float], wild: float) -> None:
    groups = range(len(ratios))
    good = population_factor(ratios, groups, prior_sd=0.11, group_sd=0.1, clip=2.5)
    bad = population_factor([wild, *ratios[1:]], groups, prior_sd=0.11, group_sd=0.1, clip=2.5)
    ordered = np.sort(ratios)
    middle = len(ratios) // 2
    room = ordered[min(middle + 1, len(ratios) - 1)] - ordered[max(middle - 2, 0)]
    assert abs(np.log(bad.value / good.value)) <= room + 1e-9

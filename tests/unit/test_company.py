"""What a nestling's company foretells: shrinkage, own visits and siblings, and data of every odd kind."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from simulated_broods import mass_at, simulated_season, wing_at
from typed_season import typed_season

from audit.declarations import load_declarations
from audit.rules.birds import birds_of
from audit.rules.case import Case
from audit.rules.outlook import Outlook, outlook_of
from audit.rules.scatter import Grain, log_runty
from audit.rules.sizes import sizes_of

Row = dict[str, Any]
DECLARED = load_declarations()
DAY = dt.date(2026, 6, 10)
OWN_SD = 7.2


def outlook(rows: list[Row], species: str = "barn_owl") -> Outlook:
    case = Case(typed_season(DECLARED, handlings=rows), DECLARED, DECLARED.rules["growth"], frozenset())
    birds = birds_of(case, fallback="barn_owl")
    own = birds.of(np.flatnonzero(birds.slug == species))
    return outlook_of(sizes_of(DECLARED.species[species], own, Grain.from_case(case)), own)


def wings(there: Outlook, row: int, levels: np.ndarray) -> np.ndarray:
    """Quantiles of the wing of one nestling, foretold from everything but itself."""
    tried = np.linspace(0.0, 400.0, 801)[1:]
    dense = there.as_nestling(np.full(len(tried), row), tried, np.full(len(tried), there.birds.mass[row]))
    share = np.cumsum(np.exp(dense - dense.max()))
    return np.interp(levels, share / share[-1], tried)


def season(broods: int, *, noise: float, scatter: float, seed: int = 1, heavy: float = 1.0) -> list[Row]:
    """Make broods of four, met twice a fortnight apart, with such noise of wings and scatter of masses."""
    rng = np.random.default_rng(seed)
    rows: list[Row] = []
    for brood in range(broods):
        ages = 36 - np.array([0, 2, 5, 7]) + int(rng.integers(-4, 5))
        for later in (0, 14):
            for bird, age in enumerate(ages + later):
                rows.append(
                    {
                        "date": DAY + dt.timedelta(days=later),
                        "box": f"SL-{brood:03d}",
                        "species": "barn owl",
                        "ring": f"SV{brood * 10 + bird:05d}",
                        "age": "1",
                        "wing_mm": float(round(wing_at(age) + rng.normal(0, noise))),
                        "net_g": float(round(heavy * mass_at(age) * (1 + rng.normal(0, scatter)))),
                    }
                )
    return rows


def test_three_birds_change_nothing_and_three_thousand_decide() -> None:
    def track_sd(broods: int) -> float:
        return outlook(season(broods, noise=1.5, scatter=0.03)).sizes.company.effects.track_sd

    few, some, many = track_sd(1), track_sd(10), track_sd(375)
    assert few == pytest.approx(OWN_SD, rel=0.15)
    assert few > some > many
    # two readings with a noise of 1.5 mm each, rounded
    assert many == pytest.approx(2**0.5 * 1.5, rel=0.15)


def test_a_noisy_season_is_given_room() -> None:
    noisy = outlook(season(100, noise=9, scatter=0.2)).sizes.company.effects
    regular = outlook(season(100, noise=1.5, scatter=0.03)).sizes.company.effects
    assert noisy.track_sd > OWN_SD > regular.track_sd
    assert noisy.mass_sd > 1 > regular.mass_sd


@pytest.mark.parametrize("heavy", [0.85, 1.2])
def test_a_heavy_population_is_learnt(heavy: float) -> None:
    factors = [
        outlook(season(n, noise=2, scatter=0.08, heavy=heavy)).sizes.nestling_factor for n in (1, 10, 60)
    ]
    off = [abs(factor.value - heavy) for factor in factors]
    assert off[0] > off[2]
    assert off[2] < 0.02
    assert factors[0].sd > factors[1].sd > factors[2].sd


def test_own_other_wing_and_the_siblings_advance_foretell_a_wing() -> None:
    rows = season(40, noise=1.5, scatter=0.05)
    # in the first brood all wings but one lost ten millimetres since: so will the last have done
    for row in rows[4:7]:
        row["wing_mm"] -= 10
    there = outlook(rows)
    low, middle, high = wings(there, 7, np.array([0.1, 0.5, 0.9]))
    plain = wings(outlook(season(40, noise=1.5, scatter=0.05)), 7, np.array([0.5]))[0]
    assert plain - 12 < middle < plain - 4
    assert high - low < 20


def test_a_bird_met_once_is_foretold_more_vaguely() -> None:
    rows = season(30, noise=2, scatter=0.05)
    lone = wings(outlook([row for row in rows if row["date"] == DAY]), 3, np.array([0.1, 0.9]))
    met = wings(outlook(rows), 3, np.array([0.1, 0.9]))
    assert np.diff(met)[0] < np.diff(lone)[0] / 2


def test_a_wing_never_tests_itself() -> None:
    rows = season(30, noise=2, scatter=0.05)
    before = outlook(rows).expected
    rows[5]["wing_mm"] = 30.0
    after = outlook(rows).expected
    assert after.age[5] == pytest.approx(before.age[5], abs=0.2)


def test_one_gross_error_moves_no_other_brood() -> None:
    rows = season(20, noise=2, scatter=0.05)
    before = outlook(rows).expected
    rows[0]["wing_mm"], rows[0]["net_g"] = 1500.0, 3700.0
    after = outlook(rows).expected
    others = np.arange(8, len(rows))
    assert np.nanmax(np.abs(after.age - before.age)[others]) < 0.3
    assert np.nanmax(np.abs(after.shift - before.shift)[others]) < 0.3
    siblings = [1, 2, 3, 5, 6, 7]
    assert np.abs(after.age - before.age)[siblings].max() < 1.5


def test_the_intervals_hold_in_a_season_that_was_simulated_elsewhere() -> None:
    rows = simulated_season(17)
    there = outlook(rows)
    typed = there.birds.wing
    levels = np.array([0.1, 0.9])
    inside = [
        low <= typed[row] <= high
        for row in there.sizes.company.rows[:200]
        for low, high in [wings(there, int(row), levels)]
    ]
    assert np.mean(inside) == pytest.approx(0.8, abs=0.1)


odd_number = st.one_of(st.none(), st.floats(0.1, 5000), st.just(0.0))


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.fixed_dictionaries(
            {
                "date": st.one_of(st.none(), st.dates(dt.date(2026, 5, 1), dt.date(2026, 8, 1))),
                "box": st.sampled_from(["SL-01", "SL-02", None]),
                "species": st.sampled_from(["barn owl", "kestrel", "great tit"]),
                "ring": st.sampled_from(["SV00001", "SV00002", None]),
                "tag": st.sampled_from(["999000000000001", "999000000000002", None]),
                "age": st.sampled_from(["1", "4", None]),
                "wing_mm": odd_number,
                "net_g": odd_number,
                "age_days": st.one_of(st.none(), st.floats(0, 90)),
            }
        ),
        min_size=1,
        max_size=7,
    )
)
def test_it_never_fails(rows: list[Row]) -> None:
    for species in ("barn_owl", "common_kestrel", "great_tit"):
        there = outlook(rows, species)
        for found in there.as_typed():
            assert not np.isnan(found).any()
        n = len(there.birds.wing)
        for row in range(n):
            here = np.array([row])
            said = there.evidence(
                here, there.birds.wing[here], there.birds.mass[here], there.birds.grown[here]
            )
            assert not np.isnan(said).any()


def test_nobody_at_all() -> None:
    there = outlook([{"date": DAY, "box": "SL-01", "species": "kestrel", "ring": "SK1", "age": "1"}])
    assert len(there.birds.wing) == 0
    assert all(len(found) == 0 for found in there.as_typed())


def test_a_ring_that_changes_the_box_is_not_held_to_its_own_wing() -> None:
    rows = season(20, noise=2, scatter=0.05)
    rows[4]["box"] = "SL-999"
    assert outlook(rows).expected.own[0] == 0
    assert outlook(rows).expected.own[1] == 1


def test_distances_count_standard_deviations_of_what_is_foretold() -> None:
    rows = season(60, noise=2, scatter=0.05)
    there = outlook(rows)
    wing, mass = there.distances()
    assert np.std(wing) == pytest.approx(1, abs=0.15)
    assert np.std(mass) == pytest.approx(1, abs=0.25)
    low, high = wings(there, 9, np.array([0.159, 0.841]))
    rows[9]["wing_mm"] = (low + high) / 2 + 3 * (high - low)
    # 6 half-widths of the interval that holds 68 %
    assert outlook(rows).distances()[0][9] == pytest.approx(6, abs=1)


def test_birds_asked_about_together_are_told_what_they_are_told_one_by_one() -> None:
    rows = season(3, noise=4, scatter=0.15)
    rows[3]["wing_mm"], rows[12]["net_g"], rows[20]["wing_mm"] = 20.0, 90.0, None
    alone, together = outlook(rows), outlook(rows)
    of = np.repeat(np.arange(len(rows)), 3)
    wing, mass = (np.tile([value, value * 1.2, np.nan], len(rows)) for value in (150.0, 300.0))
    stage = np.zeros(len(of))
    said = together.evidence(of, wing, mass, stage)
    for row in range(0, len(rows), 4):
        here = of == row
        one = alone.evidence(of[here], wing[here], mass[here], stage[here])
        np.testing.assert_allclose(said[here], one, rtol=1e-12)
    company = alone.sizes.company
    nobody = np.zeros(0, dtype=np.int64)
    asked = [(place, company.supporters(place), nobody) for place in range(0, 20, 5)]
    each = company.expect_each_without(asked)
    for k, (place, wings, masses) in enumerate(asked):
        single = company.expect_without(place, wings, masses)
        for name in ("age", "age_sd", "shift", "left", "told", "own"):
            np.testing.assert_allclose(getattr(each, name)[k], getattr(single, name)[0], rtol=1e-12)


def test_a_measure_that_is_missing_is_held_against_no_curve(monkeypatch) -> None:
    there = outlook(season(2, noise=1.5, scatter=0.03))
    asked: list[int] = []

    def counted(z: np.ndarray, *given: Any) -> np.ndarray:
        asked.append(len(z))
        return log_runty(z, *given)

    monkeypatch.setattr("audit.rules.sizes.log_runty", counted)
    some = there.expected.of(np.arange(3))
    values = np.array([np.nan, 300.0, np.nan])
    found = there.sizes.log_mass(values, some)
    assert asked == [1]
    assert found[[0, 2]].tolist() == np.zeros((2, len(there.sizes.days))).tolist()
    alone = there.sizes.log_mass(values[1:2], there.expected.of(np.array([1])))
    np.testing.assert_array_equal(found[1], alone[0])
    assert not there.sizes.log_mass(values[:1], there.expected.of(np.array([0]))).any()
    assert asked == [1, 1]

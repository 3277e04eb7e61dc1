"""How much longer than declared the wings of a season are, against wings drawn from a known factor."""

from __future__ import annotations

import numpy as np
import pytest

from audit.declarations import load_declarations
from audit.models import growth
from audit.rules.companions.wing_factor import WingTracks, wing_factor
from audit.rules.scatter import Grain

DECLARED = load_declarations()
CURVE = DECLARED.species["barn_owl"].curves["wing_mm"]
GRAIN = Grain(
    **{name: float(DECLARED.rules["growth"].limits[name].value) for name in Grain.__dataclass_fields__}
)


def season(factor: float, sd: float = 1.0, birds: int = 120) -> tuple[WingTracks, np.ndarray]:
    """Birds met at two visits, ten days apart; and their ages."""
    rng = np.random.default_rng(3)
    first = rng.uniform(CURVE.first_day + 5, CURVE.last_day - 20, birds)
    age = np.concatenate([first, first + 10])
    wing = growth.mean(CURVE, age) * factor + rng.normal(0, sd, 2 * birds)
    rows = np.arange(birds)
    return WingTracks(CURVE, wing, np.repeat([0.0, 10.0], birds), rows, rows + birds, rows // 4), age


@pytest.mark.parametrize("factor", [0.97, 1.0, 1.04])
def test_a_factor_is_found_again_by_tracks_and_recorded_ages(factor: float) -> None:
    tracks, age = season(factor)
    brood = np.tile(np.arange(len(age) // 2) // 4, 2)
    found = wing_factor(GRAIN, tracks, 1.0, (age, np.full(len(age), 0.5)), brood)
    assert found.value == pytest.approx(factor, abs=0.01)
    assert found.groups == len(np.unique(tracks.together))


def test_many_factors_at_once_are_each_on_its_own() -> None:
    tracks, _ = season(1.0)
    factors = np.array([0.95, 1.0, 1.1])
    together = tracks.off(factors[:, None])
    assert together == pytest.approx(np.array([tracks.off(float(one)) for one in factors]))


def test_nothing_is_learnt_from_nobody() -> None:
    none = np.zeros(0, dtype=np.int64)
    tracks = WingTracks(CURVE, np.array([80.0, 90.0]), np.zeros(2), none, none, none)
    missing = np.full(2, np.nan)
    found = wing_factor(GRAIN, tracks, 1.0, (missing, missing), np.array([0, 0]))
    assert found.value == pytest.approx(1.0)
    assert found.groups == 0

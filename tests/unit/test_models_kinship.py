"""What is foretold of one value by the others: against plain conditioning of the normal distribution."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.models.kinship import Shares, foretell, kin_of

EVERYONE = 64


def by_conditioning(
    value: np.ndarray,
    noise: np.ndarray,
    gain: np.ndarray,
    codes: tuple[np.ndarray, ...],
    shares: Shares,
    k: int,
) -> tuple[float, float]:
    """Mean and standard deviation of a part of a normal vector, the rest given (any textbook)."""
    brood, bird, visit = (code[:, None] == code for code in codes)
    cov = shares.brood * brood + shares.bird * (bird & brood)
    cov = cov + shares.visit * (visit & brood) * np.outer(gain, gain)
    others = [j for j in range(len(value)) if j != k and np.isfinite(value[j])]
    rest = cov[np.ix_(others, others)] + np.diag(noise[others])
    weight = np.linalg.solve(rest, cov[others, k]) if others else np.zeros(0)
    return float(weight @ value[others]), float(np.sqrt(cov[k, k] - weight @ cov[others, k]))


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.integers(1, 24))
def test_it_is_conditioning(seed: int, n: int) -> None:
    rng = np.random.default_rng(seed)
    brood = rng.integers(0, 3, n)
    bird, visit = brood * 10 + rng.integers(0, 4, n), brood * 10 + rng.integers(0, 2, n)
    value, noise, gain = rng.normal(0, 2, n), rng.uniform(0.2, 2, n), rng.uniform(0.5, 2, n)
    value[rng.random(n) < 0.2] = np.nan
    shares = Shares(4.0, 1.0, 0.5)
    found = foretell(value, noise, gain, kin_of(brood, bird, visit, most=EVERYONE), shares, odd=np.inf)
    for k in range(n):
        mean, sd = by_conditioning(value, noise, gain, (brood, bird, visit), shares, k)
        assert found.mean[k] == pytest.approx(mean, abs=0.02)
        assert found.sd[k] == pytest.approx(sd, abs=0.02)


def brood_of(*values: list[float]) -> tuple[np.ndarray, ...]:
    """Values of one brood, a row for each bird, a column for each visit."""
    table = np.array(values, dtype=np.float64)
    bird, visit = np.indices(table.shape)
    return table.ravel(), np.zeros(table.size, dtype=np.int64), bird.ravel(), visit.ravel()


def foretold(*values: list[float], odd: float = 3.0) -> np.ndarray:
    value, brood, bird, visit = brood_of(*values)
    ones = np.ones(len(value))
    found = foretell(
        value, 0.1 * ones, ones, kin_of(brood, bird, visit, most=EVERYONE), Shares(50.0, 4.0, 0.2), odd=odd
    )
    return found.mean.reshape(len(values), -1)


def test_a_bird_keeps_its_place_and_shares_the_luck_of_a_visit() -> None:
    means = foretold([1, 1], [3, 3], [-2, -2], [0, np.nan])
    assert means[3, 1] == pytest.approx(0, abs=0.3)
    # all others fell behind by one
    late = foretold([1, 0], [3, 2], [-2, -3], [0, np.nan])
    assert late[3, 1] - means[3, 1] == pytest.approx(-1, abs=0.4)


def test_an_odd_value_does_not_blame_its_siblings_but_its_own_other_one() -> None:
    means = foretold([1, 1], [3, 3], [-2, -2], [0, 40])
    assert np.abs(means[:3] - [[1, 1], [3, 3], [-2, -2]]).max() < 0.5
    assert means[3, 1] == pytest.approx(0, abs=0.5)
    # either of the two may be the odd one
    assert means[3, 0] > 20


def test_large_broods_are_taken_apart_and_nothing_is_lost() -> None:
    n = 200
    brood = np.zeros(n, dtype=np.int64)
    kin = kin_of(brood, np.arange(n), brood, most=16)
    places = np.concatenate([block[block >= 0] for block in kin.blocks])
    assert sorted(places.tolist()) == list(range(n))
    assert max(block.shape[1] for block in kin.blocks) == 16


def test_nobody_at_all() -> None:
    none = np.zeros(0, dtype=np.int64)
    found = foretell(
        np.zeros(0), np.zeros(0), np.zeros(0), kin_of(none, none, none, most=EVERYONE), Shares(1, 1, 1), odd=3
    )
    assert found.mean.shape == found.sd.shape == (0,)


def test_broods_are_foretold_alike_whether_they_are_few_or_many() -> None:
    rng = np.random.default_rng(5)
    brood = np.repeat(np.arange(300), rng.integers(1, 9, 300))
    bird, visit = brood * 10 + rng.integers(0, 4, len(brood)), brood * 10 + rng.integers(0, 2, len(brood))
    value, noise, gain = rng.normal(0, 2, (3, len(brood)))
    noise, gain = np.abs(noise) + 0.1, np.abs(gain)
    told = []
    for some in (brood < 300, brood < 20):
        kin = kin_of(brood[some], bird[some], visit[some], most=EVERYONE)
        told.append(
            (kin, foretell(value[some], noise[some], gain[some], kin, Shares(1.0, 0.5, 0.3), odd=3.0))
        )
    (many, of_many), (few, of_few) = told
    assert len(few.blocks) < len(many.blocks)
    here = brood < 20
    assert of_few.mean == pytest.approx(of_many.mean[here], rel=1e-9, abs=1e-12)
    assert of_few.sd == pytest.approx(of_many.sd[here], rel=1e-9)

"""Crossings that no antenna heard, beside groups of reads: birds that stay for seconds."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from simulated_detections import calibration_error, f1

from audit.declarations import load_declarations
from audit.models.passage_beside import Missed, beside
from audit.models.passage_places import ends, place
from audit.models.passage_waits import bin_of, waits_from
from audit.models.passages import Limits, passages
from audit.models.reads import Passages, Reads

LIMITS = Limits(
    **{
        key.rpartition(".")[2]: limit.value
        for key, limit in load_declarations().settings.items()
        if key.startswith("antennas.passages.")
    }
)
HEARS = (0.70, 0.55)


def feeding(seed, birds=2, nights=25, trips=9, stay=15.0):
    """Birds that bring prey: away for most of an hour, inside for some seconds; each antenna reads once."""
    rng = np.random.default_rng(seed)
    reads, truth = [], []
    for bird in range(birds):
        for night in range(nights):
            at = night * 86400.0 + rng.uniform(0, 3600)
            while at < night * 86400 + 8 * 3600:
                at += 30 + rng.exponential(8 * 3600 / trips)
                for direction in (0, 1):
                    truth.append((0, bird, int(at * 1000), direction))
                    for step, antenna in enumerate((direction, 1 - direction)):
                        if rng.random() < HEARS[antenna]:
                            reads.append((0, bird, int((at + step) * 1000), antenna))
                    at += 1 + (5 + rng.exponential(stay) if direction == 0 else 0)
    box, tag, moment, antenna = (np.array(column) for column in zip(*sorted(reads), strict=True))
    whole = [np.array(column) for column in zip(*truth, strict=True)]
    certain = np.ones(len(truth)), np.zeros(len(truth), dtype=np.int8)
    return (
        Reads(box.astype(np.int32), tag.astype(np.int32), moment.astype(np.int64), antenna.astype(np.int8)),
        Passages(
            whole[0].astype(np.int32),
            whole[1].astype(np.int32),
            whole[2],
            whole[3].astype(np.int8),
            *certain,
        ),
    )


def test_one_read_of_a_short_stay_tells_both_ways():
    reads, truth = feeding(7101)
    found = passages(reads, None, LIMITS)
    # a posterior on a grid of seconds with the true waits and chances reaches 0.98 with such stays
    assert f1(found, truth) >= 0.95
    assert calibration_error(found, truth) <= 0.05
    assert not (found.direction == 2).any()
    # who came is told before who left
    for bird in (0, 1):
        mine = found.tag == bird
        turns = np.diff(found.direction[mine])
        assert (turns != 0).mean() >= 0.95


@pytest.fixture(scope="module")
def waits():
    rng = np.random.default_rng(8)
    trips, stays = rng.lognormal(np.log(1500), 0.5, 4000), 6 + rng.exponential(15, 4000)
    weights = np.zeros((2, 8000))
    weights[0, :4000], weights[1, 4000:] = 1, 1
    return waits_from(bin_of(np.concatenate([trips, stays])), weights, 1e-4)


def test_ends_of_a_wait_are_told_as_simulated_pairs_have_them(waits):
    rng = np.random.default_rng(9)
    trips, stays = rng.lognormal(np.log(1500), 0.5, 200_000), 6 + rng.exponential(15, 200_000)
    kind = bin_of(np.array([1500.0]))
    some = bin_of(trips + stays) == kind[0]
    behind, before = ends(waits, 0, kind, 60)
    for seconds in (10, 20, 40):
        assert before[0, seconds + 1] == pytest.approx((stays[some] <= seconds).mean(), abs=0.06)
        assert behind[0, seconds + 1] == pytest.approx((trips[some] <= seconds).mean(), abs=0.02)
    assert (before[0, 0], before[0, 1]) == pytest.approx((0, 0), abs=1e-9)
    moment, _ = place(waits, np.array([0]), np.array([1500.0]), 30)
    assert 1500 - moment[0] < 60


def test_no_missed_crossing_counts_twice(waits):
    rng = np.random.default_rng(10)
    n = 400
    start = np.cumsum(rng.integers(20, 4000, n)) * 1000
    stop = start + rng.integers(0, 5, n) * 1000
    wait = np.diff(start, prepend=start[0]) / 1000.0
    chains = SimpleNamespace(groups=SimpleNamespace(start=start, stop=stop), bins=bin_of(np.maximum(wait, 1)))
    passed = rng.random(n) * rng.integers(0, 2, n)
    p = rng.random(n) * (1 - np.maximum(passed, np.roll(passed, 1)))
    p[0] = 0
    missed = Missed(0, p, np.zeros(n, dtype=np.bool_), stop, np.where(p >= 0.5, p * rng.random(n), 0))
    told, at, alone = beside(chains, waits, missed, (passed, start), LIMITS)
    assert (told >= passed).all()
    assert (told <= 1).all()
    assert (told - passed).sum() <= p[~alone].sum() + 1e-9
    assert alone.any()
    # what is told by itself is likelier than any other reading, and moves no group
    assert (np.abs(at - start) <= 1000 * max(LIMITS.beside_off_s)).all()
    assert (at[told == passed] == start[told == passed]).all()

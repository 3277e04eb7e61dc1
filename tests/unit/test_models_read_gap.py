"""The gap between groups of reads: a valley between two humps, and never shorter than a logger waits."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from audit.declarations import load_declarations
from audit.models.passage_limits import Limits
from audit.models.read_gap import find_gap, rest_pause
from audit.models.reads import Reads

_START = "antennas.passages."
LIMITS = Limits(
    **{
        name.removeprefix(_START): number.value
        for name, number in load_declarations().settings.items()
        if name.startswith(_START)
    }
)


def _reads(at, antenna=0):
    n = len(at)
    none = np.zeros(n, np.int32)
    return Reads(none, none, np.asarray(at, dtype=np.int64), np.broadcast_to(np.int8(antenna), n))


@pytest.mark.parametrize("stamp", [1, 1000])
def test_the_gap_lies_in_the_valley(stamp):
    rng = np.random.default_rng(3)
    short, long = rng.lognormal(np.log(0.7), 0.6, 4000), rng.lognormal(np.log(300), 0.7, 1000)
    gaps = rng.permutation(np.concatenate([short, long]))
    at = np.cumsum(gaps * 1000).astype(np.int64) // stamp * stamp
    gap = find_gap(_reads(at), replace(LIMITS, gap_s=30))
    parted = (np.diff(at) > gap * 1000).sum()
    # 3 s is the 99th percentile of the short ones by construction, 60 s the first of the long
    assert gap != 30
    assert abs(parted - 1000) <= 12


def test_without_two_humps_the_gap_is_the_declared_one():
    assert find_gap(_reads(np.arange(1000) * 500), replace(LIMITS, gap_s=11)) == 11


def test_without_reads_the_gap_is_the_declared_one():
    assert find_gap(_reads([]), replace(LIMITS, gap_s=12)) == 12


@pytest.mark.parametrize("waits", [8, 20, 25])
def test_rests_are_not_parted_by_a_logger_that_waits(waits):
    rng = np.random.default_rng(waits)
    rests = [np.cumsum(waits + rng.exponential(0.4, 12)) for _ in range(200)]
    at = np.concatenate([nr * 1800 + rest for nr, rest in enumerate(rests)]) * 1000
    gap = find_gap(_reads(at), LIMITS)
    assert (np.diff(at) > gap * 1000).sum() == len(rests) - 1
    assert waits < gap <= LIMITS.gap_most_s


@pytest.mark.parametrize(("waits", "tries", "heard"), [(2, 0.25, 0.7), (2, 0.5, 0.55), (4, 0.25, 0.95)])
def test_pauses_of_a_bird_at_rest_last_as_long_as_its_logger_waits_and_misses_it(waits, tries, heard):
    rng = np.random.default_rng(5)
    rests = [np.cumsum(waits + tries * rng.geometric(heard, 8) - tries) for _ in range(300)]
    at = np.concatenate([nr * 1800 + rest for nr, rest in enumerate(rests)]) * 1000
    longest = 1000 * rest_pause(_reads(at), LIMITS)
    within = np.diff(at)[np.diff(at) < 60_000]
    assert (within <= longest).mean() > 0.9
    assert longest <= 2000 * waits


@pytest.mark.parametrize(("waits", "stamp"), [(8, 1), (5, 1), (8, 1000)])
def test_stays_in_the_box_are_not_taken_for_pauses_of_birds_at_rest(waits, stamp):
    # a bird at rest is stored with the next try, 0.2 s apart; stays are of any length beyond the wait
    rng = np.random.default_rng(7)
    rests = waits + 0.2 * rng.geometric(0.9, 900) - 0.2
    gaps = rng.permutation(np.concatenate([rests, rng.uniform(waits, 30, 1500), rng.uniform(60, 900, 900)]))
    at = (np.cumsum(gaps) * 1000).astype(np.int64) // stamp * stamp
    assert waits <= rest_pause(_reads(at), LIMITS) <= waits + 1.5


@pytest.mark.parametrize("stamp", [1, 1000])
def test_a_logger_that_does_not_wait_has_the_declared_pause(stamp):
    # by a clock of whole seconds no gap is shorter than one
    at = np.unique(np.cumsum(np.random.default_rng(6).exponential(800, 4000)).astype(np.int64) // stamp)
    assert rest_pause(_reads(at * stamp), LIMITS) == LIMITS.pause_least_s
    assert rest_pause(_reads([]), LIMITS) == LIMITS.pause_least_s

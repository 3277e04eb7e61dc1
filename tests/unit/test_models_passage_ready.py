"""How soon loggers store a tag again: held against loggers that wait a known time."""

from __future__ import annotations

import numpy as np
import pytest

from audit.declarations import load_declarations
from audit.models.passage_limits import Limits
from audit.models.passage_ready import held_off, not_ready, ready_again, stored_again
from audit.models.read_groups import group_reads
from audit.models.reads import INNER, OUTER, Reads

LIMITS = Limits(
    **{
        key.rpartition(".")[2]: limit.value
        for key, limit in load_declarations().settings.items()
        if key.startswith("antennas.passages.")
    }
)


def rests(waits, many=40):
    """Birds at rest beside both antennas of boxes; each logger stores a tag again after a time of its own."""
    rows = []
    for box, wait in enumerate(waits):
        rows += [(box, box, int(1000 * wait * step) + k, k) for step in range(many) for k in (0, 1)]
    box, tag, at, antenna = (np.array(column) for column in zip(*sorted(rows), strict=True))
    return Reads(box.astype(np.int32), tag.astype(np.int32), at.astype(np.int64), antenna.astype(np.int8))


def test_a_logger_that_waits_for_long_hears_fewer_birds_come_back():
    waits = (0.1, 2.0, 8.0, 20.0)
    found = ready_again(stored_again(rests(waits), LIMITS), np.arange(4, dtype=np.int32), LIMITS)
    expected = LIMITS.ready_most * np.exp(-np.array(waits) / LIMITS.ready_look_s)
    assert found == pytest.approx(expected, rel=1e-6)


def test_a_box_with_few_reads_is_taken_for_like_the_others():
    reads = rests((8.0,))
    found = ready_again(stored_again(reads, LIMITS), np.array([0, 7], dtype=np.int32), LIMITS)
    assert found[1] == pytest.approx(found[0])


def test_birds_that_come_again_after_stays_of_their_own_show_no_wait():
    rng = np.random.default_rng(4)
    at = np.cumsum(rng.uniform(5_000, 29_000, 200)).astype(np.int64)
    many = len(at)
    none = np.zeros(many, dtype=np.int32)
    reads = Reads(none, none, at, np.zeros(many, dtype=np.int8))
    assert ready_again(stored_again(reads, LIMITS), np.array([0], dtype=np.int32), LIMITS).tolist() == [
        LIMITS.ready_most
    ]


def test_without_reads_in_a_row_nothing_is_known():
    found = ready_again(stored_again(rests((8.0,), many=2), LIMITS), np.array([0], dtype=np.int32), LIMITS)
    assert found.tolist() == [LIMITS.ready_most]


def test_loggers_store_no_tag_again_for_as_long_as_they_wait():
    waits = (0.1, 2.0, 8.0, 20.0)
    found = held_off(stored_again(rests(waits), LIMITS), np.arange(4, dtype=np.int32), LIMITS)
    assert found == pytest.approx(waits, rel=1e-6)


def test_an_antenna_that_has_just_stored_a_bird_is_not_ready():
    # in, and 7 s later a read of the outer antenna alone; much later the same again; then another bird
    at = np.array([0, 600, 7600, 100_000, 100_600, 200_000, 203_000]) + 1_000_000
    antenna = np.array([OUTER, INNER, OUTER, OUTER, INNER, OUTER, OUTER], dtype=np.int8)
    tag = np.array([0, 0, 0, 0, 0, 0, 1], dtype=np.int32)
    reads = Reads(np.zeros_like(tag), tag, at.astype(np.int64), antenna)
    groups = group_reads(reads, 5.0)
    found = not_ready(reads, groups, np.full(len(groups.begin), 8.0))
    assert groups.start.tolist() == at[[0, 2, 3, 5, 6]].tolist()
    assert np.argwhere(found).tolist() == [[INNER, 1]]
    assert not not_ready(reads, groups, np.full(len(groups.begin), 6.5)).any()


@pytest.mark.parametrize("together", [True, False])
def test_antennas_that_wait_together_never_store_a_tag_soon_after_each_other(together):
    rows, last = [], {}
    for visit in range(200):
        steps = np.arange(0, 12_000, 200)
        for at, antenna in zip(steps, np.tile(np.repeat([0, 1], 6), 5), strict=True):
            moment, key = visit * 600_000 + int(at), 0 if together else int(antenna)
            if moment - last.get(key, -9000) >= 2000:
                last[key] = moment
                rows.append((moment, antenna))
    at, antenna = (np.array(column) for column in zip(*rows, strict=True))
    none = np.zeros(len(at), dtype=np.int32)
    found = stored_again(Reads(none, none, at.astype(np.int64), antenna.astype(np.int8)), LIMITS).shared
    assert found == (pytest.approx(2.0) if together else 0.0)


@pytest.mark.parametrize("wait", [0.1, 0.4, 0.6])
def test_antennas_that_are_read_by_turns_hide_no_crossing_from_each_other(wait):
    # a crossing takes longer than a reader takes from one antenna to the other
    at = np.concatenate([visit * 600_000 + np.arange(0, 12_000, round(wait * 1000)) for visit in range(200)])
    antenna = np.arange(len(at)) // 3 % 2
    none = np.zeros(len(at), dtype=np.int32)
    found = stored_again(Reads(none, none, at.astype(np.int64), antenna.astype(np.int8)), LIMITS).shared
    assert found == (pytest.approx(wait) if wait >= LIMITS.ready_shared_s else 0.0)

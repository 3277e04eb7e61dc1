"""How soon loggers store a tag again: held against loggers that wait a known time."""

from __future__ import annotations

import numpy as np
import pytest

from audit.declarations import load_declarations
from audit.models.passage_limits import Limits
from audit.models.passage_ready import ready_again, stored_again
from audit.models.reads import Reads

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

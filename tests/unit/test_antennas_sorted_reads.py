"""Reads are sorted as `numpy.lexsort` sorts them; a sample of boxes stands for the log."""

from __future__ import annotations

import numpy as np
import pytest
from simulated_detections import Sky, by_events

from audit.antennas.sorted_reads import order_of, sorted_reads
from audit.declarations import load_declarations
from audit.models.passages import Limits, learn_habits, passages
from audit.models.reads import Reads


@pytest.mark.parametrize("far", [10**6, 2**62])
def test_reads_are_in_the_order_of_a_plain_sort(far: int) -> None:
    rng = np.random.default_rng(5)
    n = 4000
    columns = (
        rng.integers(3, 9, n),
        rng.integers(0, 40, n),
        rng.integers(-far, far, n) // 100 * 100,
        rng.integers(0, 2, n),
    )
    order = np.lexsort(columns[::-1])
    found = sorted_reads(*columns)

    for name, column in zip(Reads.__slots__, columns, strict=True):
        assert np.array_equal(getattr(found, name), column[order])


def test_habits_of_some_boxes_serve_for_all() -> None:
    numbers = load_declarations().settings
    start = "antennas.passages."
    limits = Limits(**{k.removeprefix(start): v.value for k, v in numbers.items() if k.startswith(start)})
    log = by_events(Sky(seed=31, boxes=4, nights=12))
    some = log.reads.box < 2
    few = Reads(*(getattr(log.reads, name)[some] for name in Reads.__slots__))
    gap, habits = learn_habits(few, None, limits)
    one, other = passages(log.reads, None, limits), passages(log.reads, None, limits, gap, habits)

    kept = [
        set(zip(x.box.tolist(), x.tag.tolist(), x.at.tolist(), x.direction.tolist(), strict=True))
        for x in (one, other)
    ]
    assert len(kept[0] & kept[1]) > 0.98 * max(map(len, kept))
    again = passages(log.reads, None, limits, *learn_habits(log.reads, None, limits))
    assert all(np.array_equal(getattr(one, name), getattr(again, name)) for name in type(one).__slots__)


@pytest.mark.parametrize("far", [10**6, 2**61])
def test_rows_are_in_the_order_of_their_columns_and_equal_ones_stay(far: int) -> None:
    rng = np.random.default_rng(6)
    n = 3000
    columns = rng.integers(0, 5, n).astype(np.int32), rng.integers(-far, far, n) // far, rng.integers(0, 3, n)

    assert np.array_equal(order_of(*columns), np.lexsort(columns[::-1]))
    assert order_of(np.empty(0, dtype=np.int64)).tolist() == []

"""Rows of two copies, paired."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.models.row_pairs import Costs, Reach, pair_rows


def costs(columns: int) -> Costs:
    return Costs([0.01] * columns, emptied=0.02, missing=0.005, in_order=-5.0, moved=6.0, most=6.0)


REACH = Reach(telling=8, near=3, turned=0.5, band=64, left_over=9_000_000)


def sheet(rows: int, seed: int = 1) -> np.ndarray:
    """Day, box, ring, tag, three sizes: shape (columns, rows), numbers from 1."""
    rng = np.random.default_rng(seed)
    visit = np.sort(rng.integers(0, max(1, rows // 4), rows))
    return np.stack(
        [
            visit // 3 + 1,
            visit % 40 + 1,
            np.arange(rows) + 1,
            rng.permutation(rows) + 1,
            rng.integers(1, 200, rows),
            rng.integers(1, 200, rows),
            rng.integers(1, 40, rows),
        ]
    )


def pairs(first: np.ndarray, second: np.ndarray):
    return within(first, second, REACH)


def within(first: np.ndarray, second: np.ndarray, reach: Reach):
    return pair_rows(list(first), list(second), costs(len(first)), reach)


def test_two_equal_copies_pair_in_order():
    rows = sheet(50)
    found = pairs(rows, rows)
    assert found.pairs == tuple((i, i) for i in range(50))
    assert not found.moved
    assert found.alone_first == found.alone_second == ()


def test_a_missing_row_shifts_nothing():
    rows = sheet(50)
    found = pairs(rows, np.delete(rows, 20, axis=1))
    assert found.pairs == tuple((i, i - (i > 20)) for i in range(50) if i != 20)
    assert found.alone_first == (20,)


def test_a_doubled_row_is_alone_once():
    rows = sheet(50)
    found = pairs(np.insert(rows, 21, rows[:, 20], axis=1), rows)
    assert len(found.pairs) == 50
    assert found.alone_first in ((20,), (21,))


def test_a_page_that_was_moved_is_found():
    rows = sheet(120)
    order = [*range(30, 60), *range(30), *range(60, 120)]
    found = pairs(rows, rows[:, order])
    assert all(order[j] == i for i, j in found.pairs)
    assert len(found.pairs) == 120
    assert found.moved == set(range(30)) or found.moved == set(range(30, 60))


def test_a_copy_sorted_the_other_way_round_is_found():
    rows = sheet(5000)
    other = rows[:, ::-1].copy()
    other[3:6, 2500] = [9001, 9002, 9003]
    found = pairs(rows, other)
    assert found.pairs == tuple((i, 4999 - i) for i in range(5000))


def test_every_order_is_found_by_content():
    rows = sheet(80)
    order = np.random.default_rng(3).permutation(80)
    found = pairs(rows, rows[:, order])
    assert len(found.pairs) == 80
    assert all(order[j] == i for i, j in found.pairs)


def test_a_wrong_ring_does_not_part_a_row():
    rows, other = sheet(50), sheet(50)
    other[2, 20], other[2, 31] = 900, rows[2, 32]
    assert pairs(rows, other).pairs == tuple((i, i) for i in range(50))


def test_rings_exchanged_between_neighbours_leave_the_rows_in_order():
    rows, other = sheet(50), sheet(50)
    other[2, [20, 21]] = other[2, [21, 20]]
    assert pairs(rows, other).pairs == tuple((i, i) for i in range(50))


def test_other_birds_stay_apart():
    rows = sheet(40)
    other = rows.copy()
    # the bird at the same place of the visit is another one in all that is its own
    other[2:, 20] = [801, 802, 203, 204, 45]
    found = pairs(rows, other)
    assert found.alone_first == (20,)
    assert found.alone_second == (20,)


def test_nothing_in_common_pairs_nothing():
    found = pairs(sheet(10), sheet(10) + 1000)
    assert found.pairs == ()
    assert len(found.alone_first) == len(found.alone_second) == 10


@pytest.mark.parametrize("shape", [(0, 5), (5, 0), (0, 0), (1, 1), (1, 4)])
def test_short_sheets_are_fine(shape):
    rows = sheet(9)
    found = pairs(rows[:, : shape[0]], rows[:, : shape[1]])
    assert len(found.pairs) == min(shape)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000))
def test_each_row_is_paired_once_or_alone(seed):
    rng = np.random.default_rng(seed)
    first, second = rng.integers(0, 4, (3, 12)), rng.integers(0, 4, (3, 9))
    found = pairs(first, second)
    ones, others = [i for i, _ in found.pairs], [j for _, j in found.pairs]
    assert sorted([*ones, *found.alone_first]) == list(range(12))
    assert sorted([*others, *found.alone_second]) == list(range(9))


def test_five_thousand_rows_take_less_than_two_seconds():
    rng = np.random.default_rng(4)
    rows = sheet(5000)
    other = np.delete(rows, rng.choice(5000, 20, replace=False), axis=1)
    slips = rng.random(other.shape) < 0.02
    other[slips] = rng.integers(1, 5000, int(slips.sum()))
    # processor time, so that other programs do not count
    start = time.process_time()
    found = pairs(rows, other)
    assert time.process_time() - start < 2
    assert len(found.pairs) > 4960


# sheets with few columns: day, box, ring and one size


def narrow() -> np.ndarray:
    rows = sheet(60)[[0, 1, 2, 6]]
    # one brood around row 20
    rows[:2, 18:24] = rows[:2, [20]]
    return rows


def test_with_few_columns_exchanged_rings_leave_the_rows_in_order():
    rows, other = narrow(), narrow()
    other[2, [20, 21]] = other[2, [21, 20]]
    assert pairs(rows, other).pairs == tuple((i, i) for i in range(60))


def test_with_few_columns_a_sibling_stays_apart():
    rows, other = narrow(), narrow()
    other[2:, 20] = [801, 803]
    found = pairs(rows, other)
    assert (found.alone_first, found.alone_second) == ((20,), (20,))


def test_with_few_columns_a_slip_within_a_moved_page_parts_nothing():
    rows = narrow()
    order = [*range(30, 60), *range(30)]
    other = rows[:, order].copy()
    other[2, order.index(21)] = 801
    found = pairs(rows, other)
    assert all(order[j] == i for i, j in found.pairs)
    assert len(found.pairs) == 60


# how far rows are looked for


def test_rows_left_over_are_compared_where_they_are_few_enough():
    rows = sheet(30)
    other = rows[:, np.random.default_rng(3).permutation(30)]
    # no column tells a row for sure, so that all is left to the last comparison
    unsure = replace(REACH, telling=0)
    assert len(within(rows, other, replace(unsure, left_over=900)).pairs) == 30
    assert len(within(rows, other, replace(unsure, left_over=1)).pairs) < 15


def test_a_copy_counts_as_turned_where_more_than_the_share_crosses():
    rows = sheet(80)
    # four pages, each the other way round, and all in other places
    order = [*range(59, 39, -1), *range(79, 59, -1), *range(19, -1, -1), *range(39, 19, -1)]
    sure_alone = replace(REACH, band=2, left_over=0)
    assert len(within(rows, rows[:, order], replace(sure_alone, turned=0.99)).pairs) == 80
    assert within(rows, rows[:, order], replace(sure_alone, turned=1.0)).pairs == ()


def test_rows_beside_each_other_are_those_of_the_band():
    rows = sheet(80)
    # ten rows are missing before these in one copy, and after them in the other
    first, second = rows[:, :70], rows[:, 10:]
    unsure = replace(REACH, telling=0, left_over=0)
    assert len(within(first, second, unsure).pairs) == 60
    assert len(within(first, second, replace(unsure, band=2)).pairs) < 10


def test_rings_exchanged_between_rows_that_are_near_leave_the_rows_in_order():
    rows, other = narrow(), narrow()
    rows[3, 18:24] = other[3, 18:24] = 7
    other[2, [19, 22]] = other[2, [22, 19]]
    assert within(rows, other, REACH).pairs == tuple((i, i) for i in range(60))
    assert within(rows, other, replace(REACH, near=1)).moved

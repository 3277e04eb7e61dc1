"""Numbers in order: checked against slow and plain definitions."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from audit.models.sequence import (
    follows_neighbours,
    has_mate,
    longest_rising,
    missing_inside,
    slot_of,
)

SMALL = st.lists(st.tuples(st.integers(0, 12), st.integers(0, 5)), max_size=9)


def columns(pairs: list[tuple[int, int]]) -> tuple[np.ndarray, np.ndarray]:
    return np.array([a for a, _ in pairs], dtype=np.int64), np.array([b for _, b in pairs], dtype=np.int64)


@given(st.lists(st.integers(0, 9), max_size=9))
def test_the_longest_rising_part_is_as_long_as_any(values: list[int]) -> None:
    member = longest_rising(np.array(values, dtype=np.int64))
    kept = [v for v, m in zip(values, member, strict=True) if m]
    assert kept == sorted(kept)
    best = 0
    for mask in range(2 ** len(values)):
        part = [v for k, v in enumerate(values) if mask >> k & 1]
        if part == sorted(part):
            best = max(best, len(part))
    assert len(kept) == best


@given(SMALL, st.integers(1, 3))
def test_a_mate_is_another_number_of_the_group_within_reach(pairs: list[tuple[int, int]], reach: int) -> None:
    serial, group = columns(pairs)
    expected = [any(g == h and 0 < abs(s - t) <= reach for t, h in pairs) for s, g in pairs]
    assert has_mate(serial, group, reach).tolist() == expected


def test_a_negative_group_has_no_members() -> None:
    assert not has_mate(np.array([1, 2]), np.array([-1, -1]), 1).any()


@given(SMALL, st.integers(1, 3))
def test_a_number_follows_its_neighbours_by_the_plain_definition(
    pairs: list[tuple[int, int]], reach: int
) -> None:
    serial, day = columns(pairs)
    expected = []
    for s, d in pairs:
        lower = [t for t, _ in pairs if s - reach <= t < s]
        higher = [t for t, _ in pairs if s < t <= s + reach]
        low_days = [e for t, e in pairs if lower and t == max(lower)]
        high_days = [e for t, e in pairs if higher and t == min(higher)]
        fits = not (low_days and min(low_days) > d) and not (high_days and max(high_days) < d)
        expected.append(bool(low_days or high_days) and fits)
    assert follows_neighbours(serial, day, reach).tolist() == expected


@given(st.sets(st.integers(0, 30), max_size=12), st.integers(1, 4))
def test_gaps_hold_exactly_the_missing_numbers(used: set[int], most: int) -> None:
    gaps = missing_inside(np.array(sorted(used), dtype=np.int64), most)
    listed = [n for low, high in gaps for n in range(low, high + 1)]
    assert not used & set(listed)
    assert all(low - 1 in used and high + 1 in used and high - low < most for low, high in gaps)
    for number in range(31):
        short = number not in used and any(
            {number - a, number - a + most + 1 - k} <= used
            for a in range(1, most + 1)
            for k in range(most)
            if number - a + most + 1 - k > number
        )
        assert (number in listed) == short


def test_a_string_ends_with_the_round_hundred() -> None:
    # 888-88801 to 888-88900 is one string in the bander's manual of a North American scheme
    assert slot_of(88801, 100) == slot_of(88900, 100) == slot_of(88801, 100)
    assert slot_of(88901, 100) == slot_of(88900, 100) + 1


def test_strings_of_many_rings_are_those_of_each():
    serials = np.array([1, 100, 101, 250, 1300])
    assert slot_of(serials, 100).tolist() == [slot_of(one, 100) for one in serials.tolist()]

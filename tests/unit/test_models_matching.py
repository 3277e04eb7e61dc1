"""Rows and birds one to one, checked against every way there is.

Reference: all matchings of up to six rows listed one by one (permutations of `itertools`), with no algorithm.
"""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.models.matching import NEW, Matching, marginals, match, ranked, settle

EXACT, MOST = 10, 5000


def every(log_weight, log_new):
    """All matchings with their log weights, listed one by one."""
    n, m = log_weight.shape
    found = {}
    for order in permutations([*range(m), *[NEW] * n], n):
        found[order] = float(sum(log_new[i] if k == NEW else log_weight[i, k] for i, k in enumerate(order)))
    return found


def drawn(seed, n, m, *, impossible=0.0):
    rng = np.random.default_rng(seed)
    log_weight = -rng.exponential(4, (n, m))
    log_weight[rng.random((n, m)) < impossible] = -np.inf
    return log_weight, -rng.exponential(6, n)


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 10**6), n=st.integers(1, 6), m=st.integers(0, 6), impossible=st.sampled_from([0, 0.4])
)
def test_the_best_matching_is_that_of_all_permutations(seed, n, m, impossible):
    n, m = (min(n, 4), m) if n + m > 9 else (n, m)
    log_weight, log_new = drawn(seed, n, m, impossible=impossible)
    found = match(log_weight, log_new)
    assert found.log_weight == pytest.approx(max(every(log_weight, log_new).values()))
    taken = [column for column in found.columns if column != NEW]
    assert len(set(taken)) == len(taken)


@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 10**6), n=st.integers(1, 4), m=st.integers(0, 4), impossible=st.sampled_from([0, 0.4])
)
def test_the_ranking_lists_every_matching_once_and_in_order(seed, n, m, impossible):
    log_weight, log_new = drawn(seed, n, m, impossible=impossible)
    told = ranked(log_weight, log_new, MOST)
    one_by_one = {way: w for way, w in every(log_weight, log_new).items() if np.isfinite(w)}
    assert {one.columns for one in told} == set(one_by_one)
    assert len(told) == len(one_by_one)
    weights = [one.log_weight for one in told]
    assert weights == pytest.approx(sorted(one_by_one.values(), reverse=True))


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10**6), n=st.integers(1, 5), m=st.integers(0, 4))
def test_shares_are_those_of_all_permutations(seed, n, m):
    log_weight, log_new = drawn(seed, n, m, impossible=0.2)
    ways = every(log_weight, log_new)
    total = sum(np.exp(w) for w in ways.values())
    expected = np.zeros((n, m + 1))
    for way, weight in ways.items():
        for i, k in enumerate(way):
            expected[i, k] += np.exp(weight) / total
    found = marginals(log_weight, log_new, exact_birds=EXACT, most=MOST)
    assert found == pytest.approx(expected, abs=1e-9)
    # with more birds than are summed over, the likeliest matchings stand for all
    assert marginals(log_weight, log_new, exact_birds=-1, most=MOST) == pytest.approx(expected, abs=1e-9)
    assert found.sum(axis=1) == pytest.approx(np.ones(n))


def test_the_order_of_the_birds_does_not_matter():
    log_weight, log_new = drawn(3, 4, 5)
    order = np.array([3, 0, 4, 1, 2])
    found = marginals(log_weight, log_new, exact_birds=EXACT, most=MOST)
    turned = marginals(log_weight[:, order], log_new, exact_birds=EXACT, most=MOST)
    assert turned[:, :-1] == pytest.approx(found[:, order])


def test_the_second_best_comes_after_the_best():
    log_weight, log_new = np.array([[-1.0, -3.0], [-2.0, -2.5]]), np.array([-20.0, -20.0])
    # 0-1: -3.5; 1-0: -5.0
    best, second = ranked(log_weight, log_new, 2)
    assert best.log_weight - second.log_weight == pytest.approx(1.5)
    assert len(ranked(np.zeros((1, 0)), np.array([-1.0]), 2)) == 1
    assert ranked(np.full((1, 1), -np.inf), np.array([-np.inf]), 2) == []


def test_nothing_to_match():
    assert match(np.zeros((0, 3)), np.zeros(0)) == Matching((), 0.0)
    assert marginals(np.zeros((0, 3)), np.zeros(0), exact_birds=EXACT, most=MOST).shape == (0, 4)
    assert ranked(np.zeros((0, 0)), np.zeros(0), 3) == [Matching((), 0.0)]


def test_birds_are_found_behind_three_visits():
    # true birds 0, 1, 2 with marks far apart; in the second visit two of them start in each other's place
    marks = [10.0, 20.0, 30.0, 10.2, 20.1, 29.8, 9.9, 20.2, 30.1]
    visits = [[0, 1, 2], [3, 4, 5], [6, 7, 8]]

    def weigh(row, members):
        return -abs(marks[row] - float(np.median([marks[one] for one in members])))

    found = settle(visits, [0, 1, 2, 1, 0, 2, 0, 1, 2], weigh, lambda _: -5.0, 5)
    assert found == [0, 1, 2, 0, 1, 2, 0, 1, 2]


def test_a_bird_that_fits_nowhere_is_a_new_one():
    marks = [10.0, 20.0, 10.1, 55.0]

    def weigh(row, members):
        return -abs(marks[row] - marks[members[0]])

    found = settle([[0, 1], [2, 3]], [0, 1, 0, 1], weigh, lambda _: -5.0, 5)
    assert found == [0, 1, 0, 2]


def test_a_row_that_parts_from_its_bird_gets_a_number_of_its_own():
    # by the numbers to begin with all four rows are one bird; none of them fits another
    found = settle([[0], [1], [2], [3]], [7, 7, 7, 7], lambda _row, _others: -50.0, lambda _: 0.0, 5)
    assert found == [0, 1, 2, 3]
    # the same where the numbers are those that would be given first
    found = settle([[0], [1], [2], [3]], [0, 1, 1, 0], lambda _row, _others: -50.0, lambda _: 0.0, 5)
    assert found == [0, 1, 2, 3]


def test_a_new_number_is_nobody_elses():
    def weigh(row, others):
        return 5.0 if row in (1, 2) and {1, 2} & set(others) else -50.0

    # rows 0 and 3 part at once, and neither joins the other two
    assert settle([[0], [1], [2], [3]], [0, 1, 1, 0], weigh, lambda _: 0.0, 1) == [0, 1, 1, 2]


def test_two_rows_of_one_visit_are_two_birds_whatever_they_were():
    assert settle([[0, 1], [2]], [3, 3, 4], lambda _row, _others: -50.0, lambda _: 0.0, 5) == [0, 1, 2]


def test_a_bird_alone_keeps_its_number_so_that_rounds_end():
    asked = []

    def new(row):
        asked.append(row)
        return 0.0

    found = settle([[0], [1]], [4, 9], lambda _row, _others: -50.0, new, 100)
    assert found == [0, 1]
    assert len(asked) == 2


@pytest.mark.parametrize("seed", range(6))
def test_the_likeliest_matchings_give_the_shares_of_all(seed):
    rng = np.random.default_rng(seed)
    log_weight, log_new = rng.normal(0, 2, (3, 3)), rng.normal(-3, 1, 3)
    # 34 matchings of three rows with three birds or new ones: sum over k of C(3, k)^2 k!
    some = marginals(log_weight, log_new, exact_birds=0, most=34)
    assert some == pytest.approx(marginals(log_weight, log_new, exact_birds=3, most=1))

"""A column beside its rows: every path tried by hand, and the textbook's own cases."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from audit.models.alignment import align, best_blocks

OFFSETS = (-1, 1)
WEIGHTS = st.floats(-6, 6)


@st.composite
def columns(draw):
    n = draw(st.integers(1, 5))
    stays = draw(arrays(np.float64, n, elements=WEIGHTS))
    return stays, *(draw(arrays(np.float64, (n, 2), elements=WEIGHTS)) for _ in range(3))


def every_path(stays, fits, opens, closes):
    """Weigh all paths one by one: what the dynamic programme must agree with."""
    n = len(stays)
    weighed = []
    for path in product((0, 1, 2), repeat=n):
        weight, before = 0.0, 0
        for i, state in enumerate(path):
            if state and before and state != before:
                break
            if state != before:
                weight += opens[i, state - 1] if state else closes[i - 1, before - 1]
            weight += fits[i, state - 1] - stays[i] if state else 0.0
            before = state
        else:
            weighed.append((weight + (closes[-1, before - 1] if before else 0.0), path))
    return sorted(weighed, reverse=True)


@given(columns())
@settings(max_examples=40, deadline=None)
def test_agrees_with_every_path_tried(column):
    found, paths = align(*column, OFFSETS), every_path(*column)
    weights = np.array([weight for weight, _ in paths])
    total = np.exp(weights).sum()
    assert found.log_ratio == pytest.approx(weights[0], abs=1e-9)
    assert found.runner_up == pytest.approx(weights[1], abs=1e-9)
    assert np.exp(found.log_odds) == pytest.approx(total - 1, rel=1e-6, abs=1e-9)
    moved = [
        [sum(np.exp(w) for w, p in paths if p[i] == k) / total for k in (1, 2)]
        for i in range(len(paths[0][1]))
    ]
    assert found.moved == pytest.approx(np.array(moved), abs=1e-9)
    best = [0 if state == 0 else OFFSETS[state - 1] for state in paths[0][1]]
    assert list(found.offsets) == best or weights[0] == pytest.approx(weights[1])


@given(columns())
@settings(max_examples=40, deadline=None)
def test_the_best_run_is_that_of_all_runs_tried(column):
    stays, fits, opens, closes = column
    gain = fits[:, 0] - stays
    score, begins = best_blocks(gain, opens[:, 0], closes[:, 0])
    for end in range(len(gain)):
        tried = [opens[a, 0] + gain[a : end + 1].sum() + closes[end, 0] for a in range(end + 1)]
        assert score[end] == pytest.approx(max(tried))
        assert tried[begins[end]] == pytest.approx(max(tried))


def test_many_cells_that_cannot_move_do_not_drown_the_others():
    gain = np.full(20_000, -np.inf)
    gain[15_000:15_014] = 9.3
    none = np.zeros(gain.size)
    score, begins = best_blocks(gain, none, none)
    assert score.max() == pytest.approx(14 * 9.3)
    assert begins[score.argmax()] == 15_000


def test_one_gap_opens_and_one_closes():
    # the worked case of affine gaps: a long gap costs no more than a short one, so that it is one event
    n = 12
    stays = np.r_[np.zeros(3), np.full(6, -3.0), np.zeros(3)]
    fits = np.full((n, 2), -5.0)
    fits[3:9, 0] = 0.0
    ends = np.full((n, 2), -4.0)
    found = align(stays, fits, ends, ends, OFFSETS)
    assert found.offsets == (0, 0, 0, -1, -1, -1, -1, -1, -1, 0, 0, 0)
    assert found.log_ratio == pytest.approx(6 * 3 - 2 * 4)
    assert found.runner_up < found.log_ratio
    assert found.moved[3:9, 0].min() > 0.9


def test_dear_gaps_leave_every_cell_where_it_is():
    stays, fits = np.zeros(5), np.full((5, 2), 1.0)
    ends = np.full((5, 2), -20.0)
    found = align(stays, fits, ends, ends, OFFSETS)
    assert found.offsets == (0,) * 5
    assert found.log_ratio == 0
    assert found.log_odds < -30


def test_cells_without_a_row_to_go_to_stay():
    fits = np.full((4, 2), -np.inf)
    found = align(np.full(4, -9.0), fits, np.zeros((4, 2)), np.zeros((4, 2)), OFFSETS)
    assert found.offsets == (0,) * 4
    assert found.moved.max() == 0


def test_nothing_to_align():
    none = np.zeros((0, 2))
    assert align(np.zeros(0), none, none, none, OFFSETS).offsets == ()
    assert [part.size for part in best_blocks(np.zeros(0), np.zeros(0), np.zeros(0))] == [0, 0]


def test_shapes_must_agree():
    none = np.zeros((3, 2))
    with pytest.raises(ValueError, match="as many cells"):
        align(np.zeros(2), none, none, none, OFFSETS)

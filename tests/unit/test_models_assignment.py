"""Rows and columns, one to one, held against scipy's solver also where several ways cost the same."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.optimize import linear_sum_assignment

from audit.models import assignment
from audit.models.assignment import assign

SHAPES = st.tuples(st.integers(0, 7), st.integers(0, 7))
#: Whole numbers: most tables have several assignments that cost the same.
TIED = arrays(np.float64, SHAPES, elements=st.integers(-3, 3).map(float))
ANY = arrays(np.float64, SHAPES, elements=st.floats(-1e9, 1e9))


@pytest.fixture(autouse=True)
def _solved_here(monkeypatch):
    # else the library, which is loaded here, would be compared with itself
    monkeypatch.setattr(assignment, "_LIBRARY", "")


@settings(max_examples=80, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(TIED | ANY)
def test_the_choice_is_that_of_scipy_also_between_equals(cost):
    rows, columns = assign(cost)
    right_rows, right_columns = linear_sum_assignment(cost)
    assert rows.tolist() == right_rows.tolist()
    assert columns.tolist() == right_columns.tolist()


@pytest.mark.parametrize("shape", [(49, 51), (51, 49), (50, 50), (60, 90)])
def test_large_tables_have_the_choice_of_scipy(shape):
    cost = np.random.default_rng(8).integers(0, 9, shape).astype(float)
    assert [found.tolist() for found in assign(cost)] == [
        right.tolist() for right in linear_sum_assignment(cost)
    ]

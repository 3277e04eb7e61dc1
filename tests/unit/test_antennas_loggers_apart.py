"""Two loggers at one box, of which one has heard no bird."""

from __future__ import annotations

import numpy as np
import pytest

from audit.antennas.clock_numbers import clock_numbers
from audit.antennas.loggers_apart import loggers_apart
from audit.declarations import load_declarations

MARKER = 7


@pytest.mark.parametrize("side", [0, 1])
def test_an_antenna_that_heard_no_bird_tells_nothing_of_its_clock(side):
    tag = np.array([1, 1, MARKER, MARKER], dtype=np.int32)
    antenna = np.array([side, side, 1 - side, 1 - side], dtype=np.int8)
    moments = np.array([0, 60_000, 0, 60_000], dtype=np.int64)
    limits = clock_numbers(load_declarations()).apart
    assert loggers_apart((tag, moments, antenna), np.array([MARKER]), 10.0, limits) is None

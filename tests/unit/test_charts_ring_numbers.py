"""Rings as numbers, and a long axis folded."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from audit.charts.folded import fold
from audit.charts.ring_numbers import RingNumbers, stretches
from audit.charts.sizes import fitting_room


@given(st.lists(st.integers(0, 5000), min_size=1, max_size=40), st.integers(1, 50))
def test_a_folded_axis_keeps_the_order_and_distances_within_a_stretch(numbers, apart):
    folded = fold(numbers, apart)
    ordered = sorted(set(numbers))
    places = [folded.place(number) for number in ordered]
    assert places == sorted(places)
    for one, other, at, to in zip(ordered, ordered[1:], places, places[1:], strict=False):
        if other - one <= apart:
            assert abs((to - at) - (other - one)) < 1e-6
        else:
            assert folded.stretch(one) != folded.stretch(other)
    assert len(folded.breaks()) == len(folded.lows) - 1


def test_what_lies_between_stretches_stands_between_them():
    folded = fold([1, 2, 100, 101], 10)
    assert folded.place(2) < folded.place(50) < folded.place(100)
    assert folded.place(0) < folded.place(1) < folded.place(101) < folded.place(500)


def test_a_ring_is_written_as_it_was_typed():
    numbers = RingNumbers.of(["SV08415", "SV08416", "SV0846"])
    assert numbers.ring(numbers.number("SV0846")) == "SV0846"
    assert numbers.ring(numbers.number("SV08420")) == "SV08420"
    assert np.isnan(numbers.number(""))
    assert numbers.number("SVO8435") - numbers.number("SV08435") > 1e9
    assert numbers.ring(numbers.number("?")) == "?"


def test_too_many_stretches_leave_out_the_emptiest_but_none_that_is_needed():
    others = [*range(100, 110), *range(1000, 1005), 5000, 7000]
    folded = stretches([9000.0, float("nan")], others, 25, 3)
    assert [folded.stretch(number) >= 0 for number in (9000, 105, 1003, 5000, 7000)] == [
        *(True, True, True),
        *(False, False),
    ]


def test_a_mass_ten_times_too_large_does_not_flatten_the_brood():
    low, high = fitting_room(np.array([310.0, 320.0, 335.0, 3400.0]), [318.0], [3120.0])
    assert low < 310
    assert 335 < high < 1000
    # one that is not far off is seen
    assert fitting_room(np.array([310.0, 320.0, 335.0]), [318.0], [343.0])[1] > 343
    assert fitting_room(np.array([]), [], []) is None
    low, high = fitting_room(np.array([]), [], [5.0])
    assert low < 5 < high

"""Last digits, against published counts and tables."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import chdtrc

from audit.models import digits
from audit.models.digits import last_digits, on_step, preference


def repeat(counts):
    return np.repeat(np.arange(10), counts)


def decimals_of_pi(n):
    """Machin 1706: pi = 16 arctan(1/5) - 4 arctan(1/239), in whole numbers with ten digits to spare."""
    one = 10 ** (n + 10)

    def arctan_of_one_over(x):
        term = total = one // x
        sign, k = -1, 3
        while term:
            term //= x * x
            total += sign * (term // k)
            sign, k = -sign, k + 2
        return total

    digits = str((16 * arctan_of_one_over(5) - 4 * arctan_of_one_over(239)) // 10**10)
    return [int(digit) for digit in digits[1 : n + 1]]


def test_the_first_thousand_decimals_of_pi():
    """Digit counts of the first 1,000 decimals as printed in tables of pi; chi-square 4.74 (from memory)."""
    found = preference(decimals_of_pi(1000))
    assert found.counts == (93, 116, 103, 102, 93, 97, 94, 95, 101, 106)
    assert found.chi_square == pytest.approx(4.74, abs=0.005)
    assert found.p_value > 0.8


def test_the_first_million_decimals_of_pi():
    """Published counts of the first million decimals, chi-square 5.51 (both from memory)."""
    counts = [99_959, 99_758, 100_026, 100_229, 100_230, 100_359, 99_548, 99_800, 99_985, 100_106]
    assert preference(repeat(counts)).chi_square == pytest.approx(5.51, abs=0.005)


@pytest.mark.parametrize(
    ("tail", "critical"), [(0.10, 14.684), (0.05, 16.919), (0.025, 19.023), (0.01, 21.666), (0.001, 27.877)]
)
def test_tail_probability_with_nine_degrees_of_freedom(tail, critical):
    """Upper critical values: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4."""
    # one digit above and one below an even share by d gives chi-square 2 d^2 / 1000 at 10,000 values
    d = np.sqrt(critical * 1000 / 2)
    around = [
        preference(repeat([1000 + k, 1000 - k] + [1000] * 8)).p_value for k in (int(d), int(np.ceil(d)))
    ]
    assert around[1] <= tail <= around[0]


def test_even_digits_have_no_preference():
    found = preference(repeat([7] * 10))
    assert (found.chi_square, found.p_value, found.index) == (0, 1, 0)
    assert found.whipple == pytest.approx(100)
    assert found.n == 70


def test_only_noughts_and_fives():
    """Whipple's index is 500 by construction; eight tenths of the digits would have to move."""
    found = preference(repeat([30, 0, 0, 0, 0, 30, 0, 0, 0, 0]))
    assert found.whipple == pytest.approx(500)
    assert found.index == pytest.approx(0.8)


def test_a_single_digit_has_the_largest_index():
    assert preference(repeat([60] + [0] * 9)).index == pytest.approx(0.9)


@given(counts=st.lists(st.integers(0, 40), min_size=10, max_size=10).filter(any), turn=st.integers(0, 9))
def test_which_digit_is_favoured_does_not_matter_to_the_test(counts, turn):
    one, other = preference(repeat(counts)), preference(repeat(counts[turn:] + counts[:turn]))
    assert one.chi_square == pytest.approx(other.chi_square)
    assert one.index == pytest.approx(other.index)
    assert 0 <= one.index <= 0.9 + 1e-12


def test_last_digits_of_tenths():
    assert last_digits([20.5, 0.3, 17.0], 0.1).tolist() == [5, 3, 0]
    assert last_digits([205, 99], 1).tolist() == [5, 9]


def test_values_on_a_coarse_step():
    assert on_step([350, 355, 360, 361], 5) == 0.75
    assert on_step([0.6, 0.8, 1.2], 0.2) == 1
    assert on_step([], 5) == 0


def test_no_digits_are_refused():
    with pytest.raises(ValueError, match="no digits"):
        preference([])
    with pytest.raises(ValueError, match="between 0 and 9"):
        preference([3, 10])


def test_clusters_take_from_the_evidence():
    # each value drawn twice: every share varies twice as much (Rao & Scott 1981)
    digits = np.repeat(np.random.default_rng(1).integers(0, 10, 4000), 2)
    pairs = np.repeat(np.arange(4000), 2)
    single, twice = preference(digits), preference(digits, pairs)
    assert twice.chi_square == pytest.approx(single.chi_square / 2, rel=0.05)
    assert preference(digits, np.arange(8000)).chi_square == pytest.approx(single.chi_square, rel=0.001)
    assert (twice.counts, twice.index) == (single.counts, single.index)


@pytest.mark.parametrize("chi_square", [0.0, 1e-6, 0.5, 3.3, 8.34, 16.92, 21.67, 40.0, 120.0, 700.0])
def test_the_tail_of_chi_square_is_that_of_scipy(chi_square):
    assert digits._tail(chi_square) == pytest.approx(chdtrc(9, chi_square), rel=1e-12)

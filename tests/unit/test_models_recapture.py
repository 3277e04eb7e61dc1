"""Capture and recapture against worked examples and exact counting."""

from __future__ import annotations

import math
from fractions import Fraction
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.models.recapture import missed, sentence

COUNT = st.integers(0, 60)


@pytest.mark.parametrize(
    ("first", "second", "both", "total", "places"),
    [
        # read: a worked example of trout in a lake, 100 tagged, 100 caught, 10 of them tagged
        # (rstudio-pubs-static, document 429479): "the Chapman estimator puts the number at 926"
        (100, 100, 10, 926, 0),
        # from memory: turtles in the encyclopedia article "Mark and recapture", 10 marked, 15 caught, 5 of
        # them marked: 28
        (10, 15, 5, 28, 0),
        # formula read in the manual of the R package recapr, NChapman: (n1+1)(n2+1)/(m2+1)-1; its example
        # NChapman(n1=100, n2=100, m2=20) worked out by hand: 10201 / 21 - 1
        (100, 100, 20, 484.76, 2),
    ],
)
def test_the_estimate_is_that_of_worked_examples(first, second, both, total, places):
    found = missed(first - both, second - both, both)
    assert round(found.total, places) == total
    assert found.found == first + second - both
    assert found.estimate == pytest.approx(found.total - found.found)


def test_the_interval_lies_beside_the_logit_interval_of_the_turtles():
    # from memory, the same article, by the formula of Sadinle (2009): 22 to 65 turtles. Another method, so
    # near is enough.
    found = missed(5, 10, 5)
    assert found.found + found.low == pytest.approx(22, abs=1)
    assert found.found + found.high == pytest.approx(65, rel=0.1)


def exact_ends(first_only: int, second_only: int, both: int) -> tuple[int, int]:
    """Middle 95 % with both chances integrated out by fractions: B(a, b) = (a-1)!(b-1)!/(a+b-1)!."""

    def beta(a: int, b: int) -> Fraction:
        return Fraction(math.factorial(a - 1) * math.factorial(b - 1), math.factorial(a + b - 1))

    weights = []
    one, other, found = first_only + both, second_only + both, first_only + second_only + both
    for more in range(700):
        n = found + more
        ways = Fraction(math.factorial(n), math.factorial(more))
        weights.append(ways * beta(one + 1, n - one + 1) * beta(other + 1, n - other + 1))
    total, summed, ends = sum(weights), Fraction(0), []
    for more, weight in enumerate(weights):
        summed += weight
        share = summed / total
        if not ends and share >= Fraction(25, 1000):
            ends.append(more)
        if share >= Fraction(975, 1000):
            return ends[0], more
    raise AssertionError("the tail is longer")


@pytest.mark.parametrize("counts", [(5, 10, 5), (2, 1, 9), (0, 0, 12), (8, 3, 20)])
def test_the_interval_is_that_of_exact_fractions(counts):
    found = missed(*counts)
    assert (found.low, found.high) == exact_ends(*counts)


@cache
def interval(first_only: int, second_only: int, both: int) -> tuple[float, float]:
    found = missed(first_only, second_only, both)
    return found.low, found.high


@pytest.mark.parametrize("errors", [4, 12, 24])
@pytest.mark.parametrize("chances", [(0.9, 0.5), (0.5, 0.5), (0.3, 0.3), (0.95, 0.9)])
def test_the_interval_holds_the_true_number_often_enough(errors, chances):
    """Counted out over every outcome: coverage at least 0.93 at a level of 0.95."""
    one, other = chances
    cells = (one * (1 - other), other * (1 - one), one * other, (1 - one) * (1 - other))
    covered = 0.0
    for a in range(errors + 1):
        for b in range(errors + 1 - a):
            for both in range(errors + 1 - a - b):
                more = errors - a - b - both
                counts = (a, b, both, more)
                ways = math.factorial(errors) / math.prod(math.factorial(k) for k in counts)
                chance = ways * math.prod(p**k for p, k in zip(cells, counts, strict=True))
                if chance > 1e-9:
                    low, high = interval(a, b, both)
                    covered += chance * (low <= more <= high)
    assert covered >= 0.93


@given(COUNT, COUNT, COUNT)
def test_the_finders_may_change_places(one, other, both):
    a, b = missed(one, other, both), missed(other, one, both)
    assert (a.estimate, a.low, a.high) == (b.estimate, b.low, b.high)
    assert 0 <= a.low <= a.high


@given(COUNT, COUNT, st.integers(1, 60))
def test_what_both_found_speaks_for_both(one, other, both):
    assert missed(one, other, both + 1).high <= missed(one, other, both).high


@given(COUNT, COUNT)
def test_without_a_shared_find_there_is_no_upper_end(one, other):
    found = missed(one, other, 0)
    assert found.is_open
    assert found.high == math.inf
    assert math.isfinite(found.estimate)


NO_END = "and nothing sets an upper end."


@pytest.mark.parametrize(
    ("counts", "said"),
    [
        ((0, 0, 0), "No error was found, so nothing can be said of errors that both missed."),
        (
            (3, 4, 0),
            f"7 errors were found, none by both: 1 or more others were missed by both, perhaps 12, {NO_END}",
        ),
        ((1, 0, 0), f"1 error was found, none by both: others may be missed, {NO_END}"),
        ((1, 1, 0), f"2 errors were found, none by both: others may be missed, perhaps 1, {NO_END}"),
        ((5, 10, 5), "20 errors were found; about 8 more were missed by both (95 % interval 2 to 41)."),
        ((2, 1, 40), "43 errors were found; less than one more was missed by both (95 % interval 0 to 1)."),
        (
            (0, 0, 12),
            "12 errors were found; by the estimate none was missed by both (95 % interval 0 to 1).",
        ),
    ],
)
def test_it_is_said_in_a_sentence(counts, said):
    assert sentence(missed(*counts)) == said


@pytest.mark.parametrize(("counts", "level"), [((-1, 0, 0), 0.95), ((1, 1, 1), 1.0), ((1, 1, 1), 0.0)])
def test_what_is_no_count_or_level_is_refused(counts, level):
    with pytest.raises(ValueError, match=r"below nought|no level"):
        missed(*counts, level)

"""Age codes as years of hatching. Codes 3, 4, 5 and the label of 6 were read; the rest is from memory."""

from __future__ import annotations

import pytest

from audit.models.age_code import hatching_years


@pytest.mark.parametrize(
    ("code", "years"),
    [
        # "4 or greater" is adult, 3 is of the year: abstract on ageing corn buntings
        ("3", (2026, 2026)),
        ("4", (None, 2025)),
        # second calendar year, and older than that: poll on age codes, ondrejkauzal.org, 13 January 2021
        ("5", (2025, 2025)),
        ("6", (None, 2024)),
        # from memory
        ("1", (2026, 2026)),
        ("2", (None, 2026)),
        ("0", (None, None)),
        ("9", (2023, 2023)),
        ("A", (None, 2022)),
        ("Z", (2010, 2010)),
        # no codes
        ("", (None, None)),
        ("10", (None, None)),
        ("a", (None, None)),
    ],
)
def test_the_years_in_which_a_bird_can_have_hatched(code, years):
    assert hatching_years(code, 2026) == years


def test_exact_and_after_alternate():
    # each pair is one year older than the one before
    for exact, after in zip("357", "468", strict=True):
        assert hatching_years(after, 2026)[1] == hatching_years(exact, 2026)[1] - 1

"""Slips of the hand in one number."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from audit.models.numerals import NumeralShares, meant_instead, step_of

SHARES = NumeralShares(0.8, 0.1, 0.1)


def test_what_373_may_have_been() -> None:
    meant = {one.value: one.kind for one in meant_instead(373, SHARES)}
    assert meant[873] == meant[337] == meant[73] == meant[3373] == "digit"
    assert meant[3730] == meant[37.3] == "tenfold"
    assert 373 not in meant
    assert 0 not in meant


def test_steps() -> None:
    assert [step_of(value) for value in (205.0, 20.5, 20.55)] == [1, 0.1, 0.01]


def test_decimals_keep_their_step() -> None:
    values = [one.value for one in meant_instead(17.5, SHARES)]
    assert {11.5, 71.5, 17.6, 175.0, 1.75} <= set(values)


@given(st.integers(1, 9999))
def test_no_value_comes_twice_and_shares_stay_within_one(value: int) -> None:
    meant = meant_instead(float(value), SHARES)
    assert len({one.value for one in meant}) == len(meant)
    assert sum(one.share for one in meant if one.kind == "digit") <= 1 + 1e-9
    assert all(one.value > 0 for one in meant)

"""Dates one slip apart."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.models.box_label import same_box
from audit.models.calendar_slips import date_slips
from audit.models.spelling import one_slip_apart


@pytest.mark.parametrize(
    ("typed", "meant", "kind"),
    [
        ("2026-12-06", "2026-06-12", "exchanged"),
        ("2025-06-12", "2026-06-12", "year"),
        ("2062-06-12", "2026-06-12", "year"),
        ("2026-07-12", "2026-06-12", "month"),
        ("2026-10-12", "2026-09-12", "month"),
        ("2026-06-21", "2026-06-12", "day"),
        ("2026-06-01", "2026-06-11", "day"),
        ("2026-06-30", "2026-07-01", "next"),
    ],
)
def test_each_slip_has_its_name(typed: str, meant: str, kind: str) -> None:
    assert date_slips(dt.date.fromisoformat(typed))[dt.date.fromisoformat(meant)] == kind


@given(st.dates(dt.date(1950, 1, 1), dt.date(2099, 12, 31)))
def test_every_single_slip_of_the_written_date_is_listed(day: dt.date) -> None:
    slips = date_slips(day)
    assert day not in slips
    for other, kind in slips.items():
        same = (other.year == day.year) + (other.month == day.month) + (other.day == day.day)
        assert same == 2 or kind in ("exchanged", "next")
    for offset in range(-40, 41):
        other = day + dt.timedelta(days=offset)
        written = one_slip_apart(other.isoformat(), day.isoformat())
        if written in ("changed", "exchanged") and other.year == day.year and other.month == day.month:
            assert other in slips


def test_an_impossible_date_is_never_meant() -> None:
    assert dt.date(2026, 2, 3) in date_slips(dt.date(2026, 3, 2))
    assert all(isinstance(other, dt.date) for other in date_slips(dt.date(2026, 3, 31)))


@pytest.mark.parametrize(
    ("known", "typed", "same"),
    [
        ("SL-01", "SL-1", True),
        ("SL-01", "SL_01", True),
        ("SL-01", "SL01", True),
        ("SL-01", "SL-O1", True),
        ("SL-01", "SL0L", True),
        ("SL-12A", "SL12A", True),
        ("SL-12A", "SL-12B", False),
        ("SL-01", "SL-10", False),
        ("SL-01", "SL-02", False),
        ("SL-01", "SL-²", False),
        ("MILL", "MILL 2", False),
        ("MILL", "MI1L", True),
    ],
)
def test_labels_of_one_box(known: str, typed: str, same: bool) -> None:
    table = {ord("O"): "0", ord("L"): "1", ord("I"): "1", ord("S"): "5"}
    assert same_box(known, typed, table) is same

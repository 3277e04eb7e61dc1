"""Degrees, minutes and seconds; the packed form is that of the exchange code (from memory)."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.models.sexagesimal import angle_of, pack, unpack

HALF_SECOND = 0.5 / 3600


@pytest.mark.parametrize(
    ("degrees", "parts"),
    [
        # worked by hand: 45.02 degrees are 45 degrees, 1.2 minutes = 1 minute 12 seconds
        (45.02, ("+", 45, 1, 12)),
        (-29.955, ("-", 29, 57, 18)),
        # the sign is kept where the degrees are zero
        (-0.25, ("-", 0, 15, 0)),
        # seconds carry over minutes into degrees
        (59.99999, ("+", 60, 0, 0)),
        (0.0, ("+", 0, 0, 0)),
        # a thousandth of a second south is no longer south
        (-0.0000001, ("+", 0, 0, 0)),
    ],
)
def test_an_angle_in_parts(degrees, parts):
    assert angle_of(degrees).parts == parts


def test_the_ends_of_the_globe():
    assert pack(90, 180) == "+900000+1800000"
    assert pack(-90, -180) == "-900000-1800000"
    assert unpack("-900000-1800000") == (-90.0, -180.0)


@settings(max_examples=80)
@given(st.floats(-90, 90), st.floats(-180, 180))
def test_what_is_packed_is_found_again(latitude, longitude):
    text = pack(latitude, longitude)
    assert len(text) == 15
    there = unpack(text)
    assert abs(there[0] - latitude) <= HALF_SECOND + 1e-9
    assert abs(there[1] - longitude) <= HALF_SECOND + 1e-9
    # every part lies below 60, and packing again changes nothing
    assert all(int(text[at : at + 2]) < 60 for at in (3, 5, 11, 13))
    assert pack(*there) == text


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("+526000+0050000", "60 minutes"),
        ("+520060+0050000", "60 seconds"),
        ("+520000+0056100", "61 minutes"),
        ("+910000+0050000", "beyond 90"),
        ("+900001+0050000", "beyond 90"),
        ("+520000+1800001", "beyond 180"),
        ("520000+00500000", "form"),
        ("+52000+00050000", "form"),
        ("...............", "form"),
        ("+٥20000+0050000", "form"),
    ],
)
def test_what_is_no_position_is_refused(text, why):
    with pytest.raises(ValueError, match=why):
        unpack(text)


@pytest.mark.parametrize("point", [(90.1, 0), (0, -180.1), (float("nan"), 0), (0, float("inf"))])
def test_no_place_beyond_the_globe_is_packed(point):
    with pytest.raises(ValueError, match="beyond"):
        pack(*point)

"""Shortest ways, held against `geographiclib` (PyPI) on the same sphere and on the ellipsoid WGS 84.

`geographiclib` is C. Karney's own implementation of his geodesics (2013, Journal of Geodesy 87: 43-55).
"""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from audit.declarations import load_declarations
from audit.models.great_circle import bearing_deg, distance_km

RADIUS = float(load_declarations().exchange.choice("earth_radius_km"))
SPHERE = Geodesic(RADIUS * 1000, 0.0)


def pairs():
    """Places over the whole globe, and boxes some hundred metres to kilometres apart."""
    rng = np.random.default_rng(7)
    far = rng.uniform([-90, -180, -90, -180], [90, 180, 90, 180], (200, 4))
    start = rng.uniform([-80, -180], [80, 180], (200, 2))
    near = np.hstack([start, start + rng.normal(0, 0.02, (200, 2))])
    return np.vstack([far, near])


def test_distance_and_direction_are_those_of_the_reference_library():
    known = [SPHERE.Inverse(*pair) for pair in pairs()]
    km = distance_km(*pairs().T, RADIUS)
    assert km == pytest.approx([one["s12"] / 1000 for one in known], abs=1e-9)
    turned = bearing_deg(*pairs().T) - [one["azi1"] for one in known]
    assert np.abs((turned + 180) % 360 - 180).max() < 1e-7


def test_the_sphere_is_close_enough_to_the_ellipsoid():
    # whole kilometres are written: a sphere of mean radius is off by up to 0.6 percent
    km = distance_km(*pairs().T, RADIUS)
    known = np.array([Geodesic.WGS84.Inverse(*pair)["s12"] / 1000 for pair in pairs()])
    assert (np.abs(km - known) / known).max() < 0.006


def test_the_declared_radius_is_the_mean_of_the_ellipsoid():
    # (2 a + b) / 3, axes of the reference library; WGS 84 and GRS 80 differ by a tenth of a millimetre
    a, f = Geodesic.WGS84.a, Geodesic.WGS84.f
    assert pytest.approx((2 * a + a * (1 - f)) / 3000, abs=1e-4) == RADIUS


def test_a_published_example():
    # Valparaiso to Shanghai, the example of the encyclopedia's page on great-circle navigation (from memory):
    # arc 168.56 degrees, course at the start -94.41 degrees
    place = (-33.0, -71.6, 31.4, 121.8)
    assert np.degrees(distance_km(*place, 1.0)) == pytest.approx(168.56, abs=0.005)
    assert bearing_deg(*place) - 360 == pytest.approx(-94.41, abs=0.005)


@pytest.mark.parametrize(
    ("there", "degrees"), [((1, 0), 0), ((0, 1), 90), ((-1, 0), 180), ((0, -1), 270), ((0, 0), 0)]
)
def test_the_winds(there, degrees):
    assert float(bearing_deg(0, 0, *there)) == pytest.approx(degrees)


def test_no_direction_is_a_whole_turn():
    turned = bearing_deg(45, 0, 46, -1e-16)
    assert 0 <= turned < 360


def test_opposite_places_are_half_the_globe_apart():
    assert float(distance_km(10, 20, -10, -160, RADIUS)) == pytest.approx(np.pi * RADIUS)

"""Shortest way between two places on a sphere: its length, and its direction at the start."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

__all__ = ["bearing_deg", "distance_km"]

_TURN = 360


def distance_km(
    latitude: ArrayLike,
    longitude: ArrayLike,
    to_latitude: ArrayLike,
    to_longitude: ArrayLike,
    radius_km: float,
) -> NDArray[np.float64]:
    """Length of the shortest way on a sphere.

    Parameters
    ----------
    latitude, longitude, to_latitude, to_longitude : array_like
        Decimal degrees; shapes that broadcast together.
    radius_km : float
        Radius of the sphere, km.

    Returns
    -------
    ndarray of float
        Kilometres.

    References
    ----------
    The form by the arc tangent, which keeps its digits for near and for opposite places: T. Vincenty 1975,
    Survey Review 23: 88-93, with flattening zero (cited from memory).
    """
    lat, lon, lat2, lon2 = (
        np.radians(np.asarray(x, dtype=np.float64)) for x in (latitude, longitude, to_latitude, to_longitude)
    )
    over = np.hypot(*_sideways(lat, lon, lat2, lon2))
    along = np.sin(lat) * np.sin(lat2) + np.cos(lat) * np.cos(lat2) * np.cos(lon2 - lon)
    return np.asarray(radius_km * np.arctan2(over, along), dtype=np.float64)


def bearing_deg(
    latitude: ArrayLike, longitude: ArrayLike, to_latitude: ArrayLike, to_longitude: ArrayLike
) -> NDArray[np.float64]:
    """Direction in which the shortest way leaves the first place.

    Parameters
    ----------
    latitude, longitude, to_latitude, to_longitude : array_like
        Decimal degrees; shapes that broadcast together.

    Returns
    -------
    ndarray of float
        Degrees clockwise from north, 0 up to but not including 360; 0 where both places are the same.
    """
    lat, lon, lat2, lon2 = (
        np.radians(np.asarray(x, dtype=np.float64)) for x in (latitude, longitude, to_latitude, to_longitude)
    )
    east, north = _sideways(lat, lon, lat2, lon2)
    turned = np.degrees(np.arctan2(east, north)) % _TURN
    # the remainder of a tiny negative angle is a whole turn
    return np.asarray(np.where(turned >= _TURN, 0.0, turned), dtype=np.float64)


def _sideways(
    lat: NDArray[np.float64], lon: NDArray[np.float64], lat2: NDArray[np.float64], lon2: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Parts to the east and to the north, at the first place, of the way to the second."""
    east = np.cos(lat2) * np.sin(lon2 - lon)
    north = np.cos(lat) * np.sin(lat2) - np.sin(lat) * np.cos(lat2) * np.cos(lon2 - lon)
    return east, north

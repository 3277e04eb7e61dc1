"""How far a bird went between two meetings, by the places of the boxes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.archive.clashes import below, clash, with_before

if TYPE_CHECKING:
    from narwhals.typing import LazyFrameT
    from numpy.typing import ArrayLike, NDArray

__all__ = ["PLACED", "TOO_FAR", "far_clashes", "on_the_globe"]

#: Name of the rule.
TOO_FAR = "too_far"
#: Columns of a table of places.
PLACED = ("scheme", "team", "box", "x", "y", "z")
_RING = ("scheme", "ring")
_MET = ("at", "day", *_RING)
_AXES = ("x", "y", "z")


def on_the_globe(latitude: ArrayLike, longitude: ArrayLike, radius_km: float) -> NDArray[np.float64]:
    """Place points in space, so that no engine needs an angle.

    Parameters
    ----------
    latitude, longitude : array_like, shape (n,)
        Decimal degrees.
    radius_km : float
        Radius of the globe.

    Returns
    -------
    ndarray, shape (n, 3)
        Kilometres from its centre. The straight way between two points is shorter than the way over the
        ground, by 1 km in 1,000 and 23 km in 2,800: it never makes a journey longer.
    """
    lat, lon = (np.radians(np.asarray(x, dtype=np.float64)) for x in (latitude, longitude))
    return radius_km * np.stack([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)], axis=-1)


def far_clashes(few: LazyFrameT, places: LazyFrameT, *, km_a_day: float) -> LazyFrameT:
    """Find birds that were met too far from where they had been.

    Parameters
    ----------
    few : frame
        From `ring_lives.doubtful_rings`.
    places : frame
        `PLACED`: each box once, in capitals, with what `on_the_globe` gives; those without scheme and team
        are boxes of all of them.
    km_a_day : float
        No bird of a box goes farther in a day.

    Returns
    -------
    frame
        Clashes of the rule ``too_far``. Two meetings on one day are a day apart, or a bird caught at dusk and
        again after midnight would be blamed.
    """
    import narwhals as nw

    boxed = few.filter(~nw.col("box").is_null())
    own = boxed.join(places, on=["scheme", "team", "box"], how="inner")
    # a table that says nothing of teams is for all of them
    of_all = places.filter((nw.col("scheme") == "") & (nw.col("team") == "")).select("box", *_AXES)
    others = boxed.join(own.select("at"), on="at", how="anti").join(of_all, on="box", how="inner")
    there = below([own.select(*_MET, *_AXES), others.select(*_MET, *_AXES)])
    went = with_before(there, ("at", "day", *_AXES), _RING)
    square = sum((nw.col(axis) - nw.col(f"{axis}_before")) ** 2 for axis in _AXES)
    days = nw.max_horizontal(nw.col("day") - nw.col("day_before"), nw.lit(1.0))
    return clash(went, TOO_FAR, square > (days * km_a_day) ** 2, nw.col("at_before"))

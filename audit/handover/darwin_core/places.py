"""Where the boxes are, as far as everybody may know.

Nest sites of protected birds are rounded to a grid. The radius that goes with a rounded point covers every
place that rounds to it. With k the longest degree of the earth in metres, s the step in degrees and phi the
latitude of that cell that is nearest the equator, where it is widest,

    radius = k * s / 2 * sqrt(1 + cos(phi)^2) + own uncertainty

which is half the diagonal of the cell, rounded up to whole metres.
"""

from __future__ import annotations

import math
from decimal import Decimal
from typing import TYPE_CHECKING

import pandas as pd

if TYPE_CHECKING:
    from audit.declarations.darwin_core import DarwinCore
    from audit.declarations.sender import Sender

__all__ = ["PLACE_COLUMNS", "cell_radius", "public_places", "rounded"]

#: Columns of an event that say where.
PLACE_COLUMNS = (
    *("decimalLatitude", "decimalLongitude", "geodeticDatum", "coordinateUncertaintyInMeters"),
    *("coordinatePrecision", "georeferenceRemarks", "dataGeneralizations", "informationWithheld"),
)
_POLE, _DATE_LINE = 90, 180


def rounded(value: float, step: float, end: int) -> Decimal:
    """Round to the nearest multiple of a step, and never beyond the end of the scale.

    Examples
    --------
    >>> rounded(-29.985, 0.1, 180), rounded(89.99, 0.4, 90)
    (Decimal('-30.0'), Decimal('90'))
    """
    size = Decimal(repr(step))
    whole = (Decimal(repr(value)) / size).to_integral_value() * size
    # no minus before a zero
    return min(max(whole, Decimal(-end)), Decimal(end)) + 0


def cell_radius(latitude: float, step: float, metres_per_degree: float) -> float:
    """Return the half diagonal of a cell of the grid in metres.

    Parameters
    ----------
    latitude, step : float
        Centre and width of the cell in degrees.
    metres_per_degree : float
        Longest degree anywhere.
    """
    widest = math.radians(min(max(abs(latitude) - step / 2, 0), _POLE))
    return metres_per_degree * step / 2 * math.sqrt(1 + math.cos(widest) ** 2)


def public_places(boxes: pd.DataFrame, sender: Sender, terms: DarwinCore) -> pd.DataFrame:
    """Return what everybody may know of each box: index = label of the box, columns `PLACE_COLUMNS`, texts.

    A box without both co-ordinates is left out; of a box that stands twice with two places, too.
    """
    step, own = (float(sender.limits[key].value) for key in ("public_step_deg", "uncertainty_m"))
    found: dict[str, tuple[str, ...]] = {}
    twice: set[str] = set()
    if not {"latitude", "longitude"} <= set(boxes.columns):
        return pd.DataFrame(columns=list(PLACE_COLUMNS), dtype=object)
    here = boxes[(boxes["box"] != "")].dropna(subset=["latitude", "longitude"])
    for box, latitude, longitude in zip(here["box"], here["latitude"], here["longitude"], strict=True):
        if abs(latitude) > _POLE or abs(longitude) > _DATE_LINE:
            continue
        place = _place(float(latitude), float(longitude), step, own, terms)
        if found.setdefault(box, place) != place:
            twice.add(box)
    kept = {box: place for box, place in found.items() if box not in twice}
    return pd.DataFrame.from_dict(kept, orient="index", columns=list(PLACE_COLUMNS), dtype=object)


def _place(latitude: float, longitude: float, step: float, own: float, terms: DarwinCore) -> tuple[str, ...]:
    datum = terms.word("words.datum")
    if not step:
        exact = (f"{Decimal(repr(value)):f}" for value in (latitude, longitude))
        return (*exact, datum, str(math.ceil(own)) if own else "", "", "", "", "")
    north, east = rounded(latitude, step, _POLE), rounded(longitude, step, _DATE_LINE)
    radius = math.ceil(cell_radius(float(north), step, terms.number("metres_per_degree")) + own)
    covers = (
        "the radius covers the rounding and the uncertainty of the co-ordinates themselves"
        if own
        else "the radius covers the rounding; how well the co-ordinates themselves are known is not told"
    )
    return (
        *(f"{north:f}", f"{east:f}", datum, str(radius), f"{Decimal(repr(step)):f}", covers),
        f"co-ordinates rounded to the nearest {step:g} degree to protect the nest site",
        "exact co-ordinates of the nest box",
    )

"""Were the rings used in the order of their numbers? A chart."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from audit.charts.layers import Axis, subtitle
from audit.charts.marked import MOST_POINTS, crowded, points
from audit.charts.outline import Outline

if TYPE_CHECKING:
    import altair as alt

    from audit.declarations import Declarations
    from audit.findings import Report
    from audit.season import Season

__all__ = ["chart", "outline"]

_NUMBERED = re.compile(r"(.*?)([0-9]+)")
_LABELS = 9
_AT_LEAST = 2


def chart(
    season: Season,
    declared: Declarations,
    report: Report,
    *,
    most_points: int = MOST_POINTS,
) -> alt.LayerChart | None:
    """Draw the order of ring numbers against the order in which they were put on.

    Only the order counts, not the distance: rings put on one after the other climb in a line, each string a
    line of its own, and a mistyped ring leaps out of it.

    Returns
    -------
    altair.LayerChart or None
        None where fewer than two rings were typed. Re-encountered birds are left out.
    """
    shown = outline(season, declared, report, most_points=most_points)
    return None if shown is None else shown.draw()


def outline(
    season: Season,
    declared: Declarations,  # noqa: ARG001 - every chart takes the same three
    report: Report,
    *,
    most_points: int = MOST_POINTS,
) -> Outline | None:
    """Work out what `chart` draws."""
    if not season.has("handlings", "ring", "date"):
        return None
    frame = season.frame("handlings")
    new = frame["ring"].notna() & frame["date"].notna()
    if season.has("handlings", "event"):
        new &= frame["event"].ne("re-encountered").fillna(value=True)
    used = frame.loc[new.to_numpy(dtype=bool), ["date", "ring"]].sort_values("date", kind="stable")
    keys = {ring: _key(ring) for ring in used["ring"].unique()}
    ordered = sorted(keys, key=lambda ring: keys[ring])
    if len(ordered) < _AT_LEAST:
        return None
    rank = {ring: place for place, ring in enumerate(ordered, 1)}
    x_values = pd.Series(np.arange(1.0, len(used) + 1), index=used.index)
    y_values = used["ring"].map(rank).astype("float64")
    shown = points(season, report, x_values, y_values, ("ring",))
    named = sorted({round(place) for place in np.linspace(1, len(ordered), _LABELS).tolist()})
    labels = json.dumps({str(place): ordered[place - 1] for place in named})
    settings = {"values": named, "labelExpr": f"({labels})[datum.value]", "labelLimit": 120}
    half = 1 / 2
    x = Axis(
        "birds in the order of their handling",
        (half, len(used) + half),
        {"format": "d", "tickMinStep": 1},
    )
    y = Axis("rings in the order of their numbers", (half, len(ordered) + half), settings)
    layers = [crowded(shown.plain, x.room, y.room, most_points), ("marked", shown.marked)]
    below = subtitle(
        shown, x, y, f"{len(used):,} birds ringed", "each string climbs in a line, a mistyped ring leaps out"
    )
    description = (
        f"Order of ring numbers against order of handling: {len(shown.plain):,} birds without and "
        f"{len(shown.marked) + shown.left_out:,} with a finding on the ring."
    )
    title = "Were the rings used in the order of their numbers?"
    return Outline(title, below, description, x, y, layers, 640)


def _key(ring: str) -> tuple[str, int, str]:
    match = _NUMBERED.fullmatch(ring)
    return (match[1], int(match[2]), ring) if match else (ring, 0, ring)

"""Did the bag weigh the same through each day? A chart."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import altair as alt
import numpy as np
import pandas as pd

from audit.charts.layers import Axis, dressed, marked_layer, plain_layer, subtitle
from audit.charts.marked import MOST_POINTS, points, room
from audit.charts.palette import BAND, LINE, PLAIN

if TYPE_CHECKING:
    from audit.charts.marked import Point
    from audit.declarations import Declarations
    from audit.findings import Report
    from audit.season import Season

__all__ = ["chart"]

_WIDTH = 640
_LABELS = 12


def chart(
    season: Season,
    declared: Declarations,  # noqa: ARG001 - every chart takes the same three
    report: Report,
    *,
    most_points: int = MOST_POINTS,
) -> alt.LayerChart | None:
    """Draw the bag weight of every bird, day by day in the order of the sheet.

    Returns
    -------
    altair.LayerChart or None
        None where no bag weights were typed. Grams; the days stand side by side whatever lies between them.
    """
    if not season.has("handlings", "bag_g", "date"):
        return None
    frame = season.frame("handlings")
    known = (frame["bag_g"].notna() & frame["date"].notna()).to_numpy()
    used = frame.loc[known, ["date", "bag_g"]]
    if used.empty:
        return None
    days, day = np.unique(used["date"].dt.normalize().to_numpy(), return_inverse=True)
    place = used.groupby(day).cumcount().to_numpy()
    size = np.bincount(day)[day]
    # a bird stands inside its day: the first at its left, the last at its right
    across = pd.Series(day + (place + 1) / (size + 1), index=used.index)
    shown = points(season, report, across, used["bag_g"], ("bag_g",))
    sound = shown.plain or shown.marked
    y_room = room([point["y"] for point in sound], margin=0.12)
    if y_room is None:
        return None
    names = [str(np.datetime_as_string(one, unit="D")) for one in days]
    half = 1 / 2
    ticks = sorted({round(at) for at in np.linspace(0, len(days) - 1, min(len(days), _LABELS)).tolist()})
    labels = json.dumps({str(at + half): names[at] for at in ticks})
    x = Axis(
        "day",
        (0.0, float(len(days))),
        {
            "values": [at + half for at in ticks],
            "labelExpr": f"({labels})[datum.value]",
            "labelAngle": -40,
            "grid": False,
        },
    )
    y = Axis("bag, g", y_room)
    crowded = len(shown.plain) > most_points
    layers = (_summed if crowded else _drawn)(shown.plain, x, y)
    layers.append(marked_layer(shown.marked, x, y))
    how = "line: middle bag of the day, bar: lightest to heaviest" if crowded else "one line for each day"
    below = subtitle(shown, x, y, f"{len(used):,} birds on {len(days):,} days", how)
    description = (
        f"Bag weight in grams through each of {len(days):,} days: {len(shown.plain):,} birds without and "
        f"{len(shown.marked) + shown.left_out:,} with a finding on the bag."
    )
    return dressed(layers, "Did the bag weigh the same through each day?", below, description, _WIDTH)


def _drawn(plain: list[Point], x: Axis, y: Axis) -> list[alt.Chart]:
    values = [{"x": point["x"], "y": point["y"], "day": int(point["x"])} for point in plain]
    lines = (
        alt.Chart(alt.InlineData(values=tuple(values)))
        .mark_line(color=PLAIN, strokeWidth=1, aria=False)
        .encode(x.x(), y.y(), detail="day:N")
    )
    return [lines, plain_layer(plain, x, y)]


def _summed(plain: list[Point], x: Axis, y: Axis) -> list[alt.Chart]:
    by_day: dict[int, list[float]] = {}
    for point in plain:
        by_day.setdefault(int(point["x"]), []).append(point["y"])
    half = 1 / 2
    values = [
        {"x": day + half, "y": float(np.median(bags)), "low": min(bags), "high": max(bags)}
        for day, bags in sorted(by_day.items())
    ]
    base = alt.Chart(alt.InlineData(values=tuple(values))).encode(x.x())
    bars = base.mark_rule(color=BAND, strokeWidth=4, aria=False).encode(y.y("low"), y2="high:Q")
    middle = base.mark_line(color=LINE, aria=False).encode(y.y())
    return [bars, middle]

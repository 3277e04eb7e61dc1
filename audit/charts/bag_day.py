"""Did the bag weigh the same through each day? A chart."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from audit.charts.layers import Axis, subtitle
from audit.charts.marked import MOST_POINTS, points, room
from audit.charts.outline import Outline

if TYPE_CHECKING:
    import altair as alt

    from audit.charts.marked import Point
    from audit.declarations import Declarations
    from audit.findings import Report
    from audit.season import Season

__all__ = ["chart", "outline"]

_WIDTH = 640
_LABELS = 12


def chart(
    season: Season,
    declared: Declarations,
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
    layers = [*(_summed if crowded else _each)(shown.plain), ("marked", shown.marked)]
    how = "line: middle bag of the day, bar: lightest to heaviest" if crowded else "one line for each day"
    below = subtitle(shown, x, y, f"{len(used):,} birds on {len(days):,} days", how)
    description = (
        f"Bag weight in grams through each of {len(days):,} days: {len(shown.plain):,} birds without and "
        f"{len(shown.marked) + shown.left_out:,} with a finding on the bag."
    )
    title = "Did the bag weigh the same through each day?"
    return Outline(title, below, description, x, y, layers, _WIDTH)


def _each(plain: list[Point]) -> list[tuple[str, list[Point]]]:
    days = [{"x": point["x"], "y": point["y"], "day": int(point["x"])} for point in plain]
    return [("days", days), ("plain", plain)]


def _summed(plain: list[Point]) -> list[tuple[str, list[Point]]]:
    by_day: dict[int, list[float]] = {}
    for point in plain:
        by_day.setdefault(int(point["x"]), []).append(point["y"])
    half = 1 / 2
    values = [
        {"x": day + half, "y": float(np.median(bags)), "low": min(bags), "high": max(bags)}
        for day, bags in sorted(by_day.items())
    ]
    return [("bags", values)]

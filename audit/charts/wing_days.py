"""Did each wing grow from visit to visit? A chart of one species through the season."""

from __future__ import annotations

import json
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import altair as alt
import numpy as np

from audit.charts.handled import short_day
from audit.charts.layers import Axis, counts_layer, dressed
from audit.charts.marked import counted_pairs, room
from audit.charts.palette import LINE, PLAIN
from audit.charts.wording import clipped, counted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["Wing", "chart"]

#: Birds met again of which the lines are drawn, and wings of birds met once drawn as points.
_MOST_LINES, _MOST_POINTS = 250, 600
_CELLS = (48, 30)
_TICKS = 8
_WIDTH = 640


@dataclass(frozen=True, slots=True)
class Wing:
    """One wing of a nestling: the bird, the day counted from 1970, and millimetres."""

    bird: str
    day: int
    mm: float


def chart(wings: Sequence[Wing], name: str) -> alt.LayerChart | None:
    """Draw wings against days, the visits of one bird joined by a line.

    Parameters
    ----------
    wings : sequence of Wing
        Of one species, in any order; a wing without a bird's name is a bird of its own.
    name : str
        Of the species.

    Returns
    -------
    altair.LayerChart or None
        None where no bird was measured on two days. Of many birds every so manieth is drawn.
    """
    lives = _lives(wings)
    again = [stops for stops in lives if len(stops) > 1]
    if not again:
        return None
    x_room = room([float(wing.day) for wing in wings])
    y_room = room([wing.mm for wing in wings])
    if x_room is None or y_room is None:
        return None
    days = np.array(sorted({wing.day for wing in wings}))
    x, y = Axis("day", x_room, _ticks(days)), Axis("wing, mm", y_room)
    drawn = _every(again, _MOST_LINES)
    once = [stops[0] for stops in lives if len(stops) == 1]
    layers = [_once_layer(once, x, y), *_line_layers(drawn, x, y)]
    rates = np.array([(b.mm - a.mm) / (b.day - a.day) for stops in again for a, b in pairwise(stops)])
    shrunk = int((rates < 0).sum())
    said = f"{counted(len(again), 'bird')} measured on two days or more"
    below = [f"{clipped(name)}, {said}; {counted(len(once), 'bird')} measured once"]
    if len(drawn) < len(again):
        below.append(f"{len(drawn):,} of the lines are drawn, evenly chosen")
    description = (
        f"Wing in millimetres against the day, {clipped(name)}: {said}, from {short_day(float(days[0]))} to "
        f"{short_day(float(days[-1]))}. Between two visits wings grew by {_rate(np.median(rates))} mm a day "
        f"in the middle case, {_rate(rates.min())} to {_rate(rates.max())} in all"
        + (f"; {counted(shrunk, 'wing')} became shorter." if shrunk else "; none became shorter.")
    )
    return dressed(layers, "Did each wing grow from visit to visit?", below, description, _WIDTH)


def _lives(wings: Sequence[Wing]) -> list[list[Wing]]:
    """Put together the wings of each bird by day; of two on one day the first counts."""
    by_bird: dict[str, dict[int, Wing]] = {}
    lone = []
    for wing in wings:
        if wing.bird:
            by_bird.setdefault(wing.bird, {}).setdefault(wing.day, wing)
        else:
            lone.append([wing])
    return [*([days[day] for day in sorted(days)] for days in by_bird.values()), *lone]


def _rate(value: float) -> str:
    return f"{value:.1f}".replace("-", "\N{MINUS SIGN}")


def _every(lives: list[list[Wing]], most: int) -> list[list[Wing]]:
    if len(lives) <= most:
        return lives
    return [lives[i] for i in np.linspace(0, len(lives) - 1, most).round().astype(int)]


def _line_layers(lives: Sequence[Sequence[Wing]], x: Axis, y: Axis) -> list[alt.Chart]:
    rows = [
        {"x": wing.day, "y": wing.mm, "of": number} for number, stops in enumerate(lives) for wing in stops
    ]
    base = alt.Chart(alt.InlineData(values=rows)).encode(x.x(), y.y())
    return [
        base.mark_line(strokeWidth=0.9, color=LINE, opacity=0.6, aria=False).encode(
            detail=alt.Detail("of:N"), order=alt.Order("x:Q")
        ),
        base.mark_point(shape="circle", filled=True, size=14, color=LINE, opacity=0.8, aria=False),
    ]


def _once_layer(once: Sequence[Wing], x: Axis, y: Axis) -> alt.Chart:
    if len(once) > _MOST_POINTS:
        at: tuple[Floats, Floats] = (
            np.array([float(wing.day) for wing in once]),
            np.array([wing.mm for wing in once]),
        )
        return counts_layer(counted_pairs(*at, x.room, y.room, _CELLS), x, y, opacity=0.75)
    rows = [{"x": wing.day, "y": wing.mm} for wing in once]
    layer: alt.Chart = (
        alt.Chart(alt.InlineData(values=rows))
        .mark_point(shape="circle", filled=True, size=14, color=PLAIN, opacity=0.55, aria=False)
        .encode(x.x(), y.y())
    )
    return layer


def _ticks(days: NDArray[Any]) -> dict[str, Any]:
    chosen = days[np.unique(np.linspace(0, len(days) - 1, min(len(days), _TICKS)).round().astype(int))]
    names = {str(int(day)): short_day(float(day)) for day in chosen}
    return {
        "values": [int(day) for day in chosen],
        "labelExpr": f"({json.dumps(names)})[datum.value]",
        "labelOverlap": True,
        "grid": False,
    }

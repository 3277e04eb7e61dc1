"""Who went in and out of a box in one night? One line for each bird, from noon to noon."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from itertools import pairwise, product
from typing import TYPE_CHECKING, Any

import altair as alt

from audit.charts.layers import Axis, dressed
from audit.charts.palette import BAND, INK, LINE, PAPER, TONES
from audit.charts.wording import counted

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["Crossing", "Silence", "chart"]

_WIDTH, _STEP, _DAY_H = 680, 34, 24
_HOUR_MS, _NOON_H = 3_600_000, 12
_CLOCK = "format((datum.value + 12) % 24, '02') + ':00'"
#: Shape, none that a severity has, and pixels below the line of the bird.
_SHAPES = {"in": ("triangle-right", -7), "out": ("triangle-left", 7), "unknown": ("cross", 0)}


@dataclass(frozen=True, slots=True)
class Crossing:
    """One passage of a bird.

    Attributes
    ----------
    bird : str
    at : int
        Milliseconds since 1970.
    direction : {'in', 'out', 'unknown'}
    p : float
    inferred : bool
        No antenna pair heard it whole.
    """

    bird: str
    at: int
    direction: str
    p: float
    inferred: bool


@dataclass(frozen=True, slots=True)
class Silence:
    """A spell in which an antenna did not hear: which one, its state, and from when to when."""

    antenna: str
    state: str
    start: int
    end: int


def chart(
    box: str, evening: int, crossings: Sequence[Crossing], silences: Sequence[Silence] = ()
) -> alt.LayerChart | None:
    """Draw one night of one box.

    Parameters
    ----------
    evening : int
        Day since 1970 on whose noon the night begins.
    crossings : sequence of Crossing
        Passages of that night; others are left out.
    silences : sequence of Silence
        When antennas were dead, asleep or unknown.

    Returns
    -------
    altair.LayerChart or None
        None where no bird passed. A bar goes from each passage in to the next one out of the same bird.
    """
    start = evening * _DAY_H * _HOUR_MS + _NOON_H * _HOUR_MS
    end = start + _DAY_H * _HOUR_MS
    tonight = sorted((one for one in crossings if start <= one.at < end), key=lambda one: one.at)
    if not tonight:
        return None
    birds = sorted({one.bird for one in tonight})

    def hour(at: int) -> float:
        return min(max((at - start) / _HOUR_MS, 0.0), float(_DAY_H))

    x = Axis("time of day", (0, _DAY_H), {"labelExpr": _CLOCK, "values": list(range(0, _DAY_H + 1, 3))})
    y = alt.Y("bird:N", title="bird", sort=birds, scale=alt.Scale(domain=birds))
    layers = [*_silent(silences, (start, end), hour, x), *_stays(tonight, hour, x, y)]
    for way, hollow in product(_SHAPES, (False, True)):
        some = [one for one in tonight if (one.direction, one.inferred) == (way, hollow)]
        if some:
            layers.append(_marks([_row(one, hour(one.at)) for one in some], x, y, way, hollow=hollow))
    day = dt.date(1970, 1, 1) + dt.timedelta(days=evening)
    ways = ", ".join(
        f"{sum(one.direction == way for one in tonight)} {way}"
        for way in _SHAPES
        if any(one.direction == way for one in tonight)
    )
    below = [
        f"night of {day}: {counted(len(birds), 'bird')}, {counted(len(tonight), 'passage')}: {ways}",
        "above the line: in, below: out; hollow: inferred; bar: inside",
    ]
    told = [
        f"{one.bird} {one.direction} at {_clock(one.at)}{' (inferred)' if one.inferred else ''}"
        for one in tonight
    ]
    title = f"Who went in and out of {box}?"
    description = f"{title} {below[0]}. {'; '.join(told)}."
    return dressed(layers, title, below, description, _WIDTH, _STEP * (len(birds) + 1))


def _row(one: Crossing, hour: float) -> dict[str, Any]:
    return {
        "bird": one.bird,
        "x": hour,
        "way": one.direction,
        "when": _clock(one.at),
        "p": round(one.p, 2),
        "how": "inferred" if one.inferred else "both antennas",
    }


def _clock(at: int) -> str:
    return (dt.datetime(1970, 1, 1) + dt.timedelta(milliseconds=at)).strftime("%H:%M:%S")  # noqa: DTZ001 - the clock of the logger


def _marks(rows: list[dict[str, Any]], x: Axis, y: alt.Y, way: str, *, hollow: bool) -> alt.Chart:
    shape, lifted = _SHAPES[way]
    marks = alt.Chart(alt.InlineData(values=rows)).mark_point(
        shape=shape,
        filled=True,
        size=80,
        fill=PAPER if hollow else LINE,
        stroke=LINE,
        opacity=1,
        yOffset=lifted,
        aria=False,
    )
    tips = [alt.Tooltip(f"{name}:N") for name in ("bird", "way", "when", "p", "how")]
    made: alt.Chart = marks.encode(x=x.x(), y=y, tooltip=tips)
    return made


def _stays(tonight: Sequence[Crossing], hour: Any, x: Axis, y: alt.Y) -> list[alt.Chart]:  # noqa: ANN401 - a function
    rows = []
    for bird in dict.fromkeys(one.bird for one in tonight):
        mine = [one for one in tonight if one.bird == bird]
        rows += [
            {"bird": bird, "x": hour(one.at), "x2": hour(after.at)}
            for one, after in pairwise(mine)
            if (one.direction, after.direction) == ("in", "out")
        ]
    if not rows:
        return []
    bars = alt.Chart(alt.InlineData(values=rows)).mark_bar(height=8, color=BAND, aria=False)
    return [bars.encode(x=x.x(), x2="x2:Q", y=y)]


def _silent(silences: Sequence[Silence], room: tuple[int, int], hour: Any, x: Axis) -> list[alt.Chart]:  # noqa: ANN401 - a function
    rows = [
        {"x": hour(one.start), "x2": hour(one.end), "state": f"{one.antenna} {one.state}"}
        for one in silences
        if one.start < room[1] and one.end > room[0]
    ]
    if not rows:
        return []
    shown = alt.Chart(alt.InlineData(values=rows))
    shade = shown.mark_rect(color=TONES["suspect"].fill, opacity=0.5, aria=False).encode(
        x=x.x(), x2="x2:Q", tooltip=[alt.Tooltip("state:N")]
    )
    words = shown.mark_text(align="left", baseline="top", dx=3, dy=2, color=INK, fontSize=10, aria=False)
    return [shade, words.encode(x=x.x(), y=alt.value(0), text="state:N")]

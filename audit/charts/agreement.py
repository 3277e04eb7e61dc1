"""How far do two measures of the same birds lie apart? A chart."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import altair as alt

from audit.charts.layers import Axis, dressed
from audit.charts.marked import room
from audit.charts.palette import BAND, INK, LINE, PAPER, PLAIN, QUIET, TONES
from audit.charts.wording import counted

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

    from audit.models.limits_of_agreement import End, Limits

    Floats = NDArray[np.float64]

__all__ = ["Pairs", "chart"]

_WIDTH, _HEIGHT = 520, 300
_FEW = 40


@dataclass(frozen=True, slots=True)
class Pairs:
    """Two measures of the same birds.

    Attributes
    ----------
    what, first, second, unit : str
        What was measured, the two measures, the unit.
    names : sequence of str
        Birds.
    a, b : numpy.ndarray, shape (n,)
    odd : sequence of bool
        Whether a pair stands out.
    limits : Limits
    """

    what: str
    first: str
    second: str
    unit: str
    names: Sequence[str]
    a: Floats
    b: Floats
    odd: Sequence[bool]
    limits: Limits


def chart(pairs: Pairs) -> alt.LayerChart | None:
    """Draw the difference of each pair against its mean, with bias and limits of agreement.

    Returns
    -------
    altair.LayerChart or None
        None without pairs.
    """
    difference, mean = pairs.a - pairs.b, (pairs.a + pairs.b) / 2
    limits = pairs.limits
    ends = [limits.lower.low, limits.upper.high, 0.0]
    x_room = room(mean.tolist(), margin=0.08)
    y_room = room([*difference.tolist(), *ends], margin=0.08)
    if x_room is None or y_room is None:
        return None
    x = Axis(f"mean of both, {pairs.unit}", x_room)
    y = Axis(f"{pairs.first} less {pairs.second}, {pairs.unit}", y_room)
    base = [
        *(_band(end, x, y) for end in (limits.bias, limits.lower, limits.upper)),
        _rule(0.0, QUIET, (1, 3), x, y),
        _rule(limits.bias.value, LINE, (1, 0), x, y),
        *(_rule(end.value, LINE, (6, 3), x, y) for end in (limits.lower, limits.upper)),
    ]
    said = (
        f"bias {limits.bias.value:+.1f} {pairs.unit}; {limits.share:.0%} of differences expected between "
        f"{limits.lower.value:+.1f} and {limits.upper.value:+.1f}"
    )
    description = (
        f"{pairs.what}: differences of {counted(len(difference), 'pair')}, {pairs.first} less "
        f"{pairs.second}, against their means, in {pairs.unit}; {said}; {sum(pairs.odd)} stand out."
    )
    return dressed(
        [*base, *_points(pairs, mean, difference, x, y)],
        f"{pairs.what}: how far do {pairs.first} and {pairs.second} lie apart?",
        [said, "line: bias; broken lines: limits; bands: their intervals; triangle: stands out"],
        description,
        _WIDTH,
        _HEIGHT,
    )


def _band(end: End, x: Axis, y: Axis) -> alt.Chart:
    values = [{"x": x.room[0], "x2": x.room[1], "y": end.low, "y2": end.high}]
    layer: alt.Chart = (
        alt.Chart(alt.InlineData(values=values))
        .mark_rect(color=BAND, opacity=0.45, aria=False)
        .encode(x.x(), y.y(), x2="x2:Q", y2="y2:Q")
    )
    return layer


def _rule(at: float, colour: str, dash: tuple[int, int], x: Axis, y: Axis) -> alt.Chart:
    layer: alt.Chart = (
        alt.Chart(alt.InlineData(values=[{"x": x.room[0], "x2": x.room[1], "y": at}]))
        .mark_rule(color=colour, strokeDash=list(dash), strokeWidth=1.4, aria=False)
        .encode(x.x(), y.y(), x2="x2:Q")
    )
    return layer


def _points(pairs: Pairs, mean: Floats, difference: Floats, x: Axis, y: Axis) -> list[alt.Chart]:
    records: list[dict[str, Any]] = [
        {"x": float(at), "y": float(off), "bird": name, "first": float(a), "second": float(b)}
        for at, off, name, a, b in zip(mean, difference, pairs.names, pairs.a, pairs.b, strict=True)
    ]
    tips = [
        alt.Tooltip("bird:N", title="bird"),
        alt.Tooltip("first:Q", title=pairs.first),
        alt.Tooltip("second:Q", title=pairs.second),
    ]
    usual = [one for one, out in zip(records, pairs.odd, strict=True) if not out]
    odd = [one for one, out in zip(records, pairs.odd, strict=True) if out]
    middle = sum(x.room) / 2
    tone = TONES["suspect"]
    layers = [
        alt.Chart(alt.InlineData(values=usual))
        .mark_point(
            shape="circle", filled=True, size=48, color=PLAIN if len(usual) > _FEW else LINE, opacity=0.75
        )
        .encode(x.x(), y.y(), tooltip=tips)
    ]
    if odd:
        layers += [
            alt.Chart(alt.InlineData(values=odd))
            .mark_point(shape=tone.shape, filled=True, size=110, color=tone.mark, stroke=PAPER, opacity=1)
            .encode(x.x(), y.y(), tooltip=tips),
            *(
                alt.Chart(alt.InlineData(values=[one]))
                .mark_text(
                    align="right" if one["x"] > middle else "left",
                    dx=-9 if one["x"] > middle else 9,
                    color=INK,
                    fontSize=11,
                )
                .encode(x.x(), y.y(), text="bird:N")
                for one in odd
            ),
        ]
    return layers

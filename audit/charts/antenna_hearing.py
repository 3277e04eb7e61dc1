"""How well did each antenna hear? One line for each, with the interval of its share of crossings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import altair as alt

from audit.charts.layers import dressed
from audit.charts.palette import INK, LINE, PAPER, PLAIN
from audit.charts.wording import counted
from audit.models.box_label import natural_order

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["HeardShare", "chart"]

_WIDTH, _STEP, _MOST = 680, 16, 40
#: Outer and inner antennas differ in shape, too.
_LOOKS = {"outer": ("circle", LINE, LINE), "inner": ("square", INK, PAPER)}


@dataclass(frozen=True, slots=True)
class HeardShare:
    """What one antenna heard of the crossings that the other heard: the share, its interval, of how many."""

    box: str
    antenna: str
    share: float
    low: float
    high: float
    trials: int


def chart(shares: Sequence[HeardShare], confidence: float, *, most: int = _MOST) -> alt.LayerChart | None:
    """Draw how well each antenna heard.

    Parameters
    ----------
    shares : sequence of HeardShare
    confidence : float
        Of the intervals.
    most : int
        Antennas that are drawn; those that heard worst come first, and the rest is counted.

    Returns
    -------
    altair.LayerChart or None
        None where no crossing was heard.
    """
    if not shares:
        return None
    chosen = sorted(shares, key=lambda one: (one.share, one.box, one.antenna))[:most]
    chosen.sort(key=lambda one: (natural_order(one.box), one.box, one.antenna == "inner"))
    rows = [
        {
            "line": f"{one.box} {one.antenna}",
            "antenna": one.antenna,
            "x": round(one.share, 4),
            "low": round(one.low, 4),
            "high": round(one.high, 4),
            "of": f"{one.share:.2f} of {one.trials:,}",
        }
        for one in chosen
    ]
    floor = min(0.5, *(one.low for one in chosen))
    scale = alt.Scale(domain=[floor, 1.0], nice=False, zero=False)
    lines = [f"{one.box} {one.antenna}" for one in chosen]
    y = alt.Y("line:N", title=None, sort=lines, scale=alt.Scale(domain=lines))
    base = alt.Chart(alt.InlineData(values=rows)).encode(y=y)
    tips = [alt.Tooltip("line:N"), alt.Tooltip("of:N", title="share"), "low:Q", "high:Q"]
    axis = alt.Axis(title="share of crossings heard", tickCount=6, format=".2f")
    x = alt.X("x:Q", scale=scale, axis=axis)
    layers = [
        base.mark_rule(color=PLAIN, strokeWidth=2, aria=False).encode(
            x=alt.X("low:Q", scale=scale, axis=axis), x2="high:Q", tooltip=tips
        )
    ]
    for antenna, (shape, stroke, fill) in _LOOKS.items():
        some = [row for row in rows if row["antenna"] == antenna]
        if some:
            points = alt.Chart(alt.InlineData(values=some)).mark_point(
                shape=shape, filled=True, size=60, fill=fill, stroke=stroke, opacity=1, aria=False
            )
            layers.append(points.encode(x=x, y=y, tooltip=tips))
    level = f"{round(confidence * 100)} % intervals"
    below = [
        f"of the crossings that the other antenna heard while both were awake; {level}",
        "filled circle: outer; open square: inner",
    ]
    if len(shares) > len(chosen):
        below.append(f"{counted(len(shares) - len(chosen), 'more antenna')} not drawn; these heard worst")
    title = "How well did each antenna hear?"
    told = "; ".join(f"{row['line']} {row['of']}, {row['low']:.2f} to {row['high']:.2f}" for row in rows)
    return dressed(layers, title, below, f"{title} {told}", _WIDTH, _STEP * (len(lines) + 1))

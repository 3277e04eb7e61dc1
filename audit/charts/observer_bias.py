"""Who measures more, who less than the others? A chart."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import altair as alt

from audit.charts.layers import Axis, dressed
from audit.charts.marked import room
from audit.charts.palette import BAND, LINE, PAPER, QUIET
from audit.charts.wording import counted

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["Lean", "chart"]

_WIDTH, _ROW = 460, 34


@dataclass(frozen=True, slots=True)
class Lean:
    """How much one observer measures more than others.

    Attributes
    ----------
    name : str
        Who, and against whom.
    value, low, high : float
    """

    name: str
    value: float
    low: float
    high: float


def chart(what: str, unit: str, leans: Sequence[Lean], goal: float | None) -> alt.LayerChart | None:
    """Draw each bias with its interval, and the band that is aimed at.

    Parameters
    ----------
    goal : float or None
        Bias that is aimed at, on both sides of nought; None where none is declared.

    Returns
    -------
    altair.LayerChart or None
        None without any bias.
    """
    x_room = room(
        [end for lean in leans for end in (lean.low, lean.high)] + [-(goal or 0), goal or 0], margin=0.08
    )
    if not leans or x_room is None:
        return None
    x = Axis(f"measures more (right) or less (left), {unit}", x_room)
    names = [lean.name for lean in leans]
    across = alt.Y("name:N", title=None, sort=names, scale=alt.Scale(domain=names))
    values = [{"name": one.name, "x": one.value, "low": one.low, "high": one.high} for one in leans]
    layers = []
    if goal is not None:
        band = [{"name": name, "low": -goal, "high": goal} for name in names]
        layers.append(
            alt.Chart(alt.InlineData(values=band))
            .mark_bar(color=BAND, opacity=0.5, size=_ROW, aria=False)
            .encode(x.x("low"), across, x2="high:Q")
        )
    layers += [
        alt.Chart(alt.InlineData(values=[{"x": 0.0}])).mark_rule(color=QUIET, aria=False).encode(x.x()),
        alt.Chart(alt.InlineData(values=values))
        .mark_rule(color=LINE, strokeWidth=2.5)
        .encode(x.x("low"), across, x2="high:Q"),
        alt.Chart(alt.InlineData(values=values))
        .mark_point(shape="circle", filled=True, color=LINE, size=110, stroke=PAPER, opacity=1)
        .encode(
            x.x(),
            across,
            tooltip=[
                alt.Tooltip("name:N", title="who"),
                alt.Tooltip("x:Q", title=f"bias, {unit}", format="+.2f"),
            ],
        ),
    ]
    told = [f"{one.name} {one.value:+.1f} ({one.low:+.1f} to {one.high:+.1f})" for one in leans]
    below = "dot: bias; line: its interval" + (
        "" if goal is None else f"; band: within {goal:g} {unit}, the goal"
    )
    description = f"{what}: bias of {counted(len(leans), 'observer')} in {unit}: {'; '.join(told)}."
    return dressed(
        layers, f"{what}: who measures more or less?", below, description, _WIDTH, _ROW * len(names) + 20
    )

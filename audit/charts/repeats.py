"""How far do the repeats of each bird lie apart? A chart."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import altair as alt
import numpy as np

from audit.charts.layers import Axis, dressed
from audit.charts.marked import room
from audit.charts.palette import BAND, INK, LINE, PAPER, PLAIN, QUIET
from audit.charts.wording import clipped, counted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["chart"]

_WIDTH, _HEIGHT = 640, 280
_MOST = 40
#: Shapes that no severity has, with colours of the palette: nobody is told by colour alone.
_SHAPES = ("circle", "cross", "triangle-down", "wedge", "triangle-right", "triangle-left")
_COLOURS = (LINE, INK, PLAIN, QUIET, INK, LINE)


def chart(
    what: str,
    unit: str,
    values: Floats,
    bird: Ints,
    observer: Ints,
    birds: Sequence[str],
    people: Sequence[str],
) -> alt.LayerChart | None:
    """Draw each value less the mean of its bird, the birds in order of size.

    Parameters
    ----------
    what, unit : str
        What was measured, and its unit.
    values, bird, observer : numpy.ndarray, shape (n,)
    birds, people : sequence of str
        Names by number.

    Returns
    -------
    altair.LayerChart or None
        None where no bird was measured twice. Of many birds those whose repeats lie farthest apart are drawn.
    """
    size = np.bincount(bird, minlength=len(birds))
    again = np.flatnonzero(size > 1)
    if not len(again):
        return None
    mean = np.bincount(bird, weights=values, minlength=len(birds)) / np.maximum(size, 1)
    off = values - mean[bird]
    reach = np.zeros(len(birds))
    np.maximum.at(reach, bird, np.abs(off))
    shown = again[np.argsort(-reach[again], kind="stable")][:_MOST]
    shown = shown[np.argsort(mean[shown], kind="stable")]
    place = {int(one): at for at, one in enumerate(shown)}
    records: list[dict[str, Any]] = [
        {
            "x": place[int(whom)],
            "y": float(by),
            "bird": birds[int(whom)],
            "who": people[int(who)] or "not named",
            "value": float(value),
        }
        for value, whom, who, by in zip(values, bird, observer, off, strict=True)
        if int(whom) in place
    ]
    y_room = room([one["y"] for one in records] + [0.0], margin=0.12)
    if y_room is None:
        return None
    labels = {str(at): clipped(birds[int(one)], 18) for at, one in enumerate(shown)}
    half = 1 / 2
    x = Axis(
        "birds, the smallest first",
        (-half, len(shown) - half),
        {
            "values": list(range(len(shown))),
            "labelExpr": f"({labels})[datum.value]",
            "labelAngle": -55,
            "grid": False,
        },
    )
    y = Axis(f"off the mean of the bird, {unit}", y_room)
    names = list(dict.fromkeys(one["who"] for one in sorted(records, key=lambda one: one["who"])))
    spans = [
        {"x": place[int(one)], "y": float(off[bird == one].min()), "y2": float(off[bird == one].max())}
        for one in shown
    ]
    layers = [
        alt.Chart(alt.InlineData(values=[{"x": x.room[0], "x2": x.room[1], "y": 0.0}]))
        .mark_rule(color=QUIET, aria=False)
        .encode(x.x(), y.y(), x2="x2:Q"),
        alt.Chart(alt.InlineData(values=spans))
        .mark_rule(color=BAND, strokeWidth=4, aria=False)
        .encode(x.x(), y.y(), y2="y2:Q"),
        alt.Chart(alt.InlineData(values=records))
        .mark_point(filled=True, size=70, opacity=0.9, stroke=PAPER, strokeWidth=0.5)
        .encode(
            x.x(),
            y.y(),
            shape=_told("who", names, [_SHAPES[i % len(_SHAPES)] for i in range(len(names))]),
            color=alt.Color(
                "who:N",
                title="measured by",
                scale=alt.Scale(domain=names, range=[_COLOURS[i % len(_COLOURS)] for i in range(len(names))]),
            ),
            tooltip=[alt.Tooltip(f"{key}:N", title=key) for key in ("bird", "who", "value")],
        ),
    ]
    left = len(again) - len(shown)
    below = f"{counted(len(shown), 'bird')} measured again"
    if left:
        below += (
            f", those whose repeats lie farthest apart; {counted(left, 'other is', 'others are')} not drawn"
        )
    widest = max(span["y2"] - span["y"] for span in spans)
    description = (
        f"{what}: repeats of {counted(len(shown), 'bird')} less the mean of the bird, in {unit}, by "
        f"{counted(len(names), 'observer')}; the farthest two of one bird lie {widest:.1f} {unit} apart."
    )
    return dressed(
        layers, f"{what}: how far do repeats of one bird lie apart?", below, description, _WIDTH, _HEIGHT
    )


def _told(key: str, names: Sequence[str], shapes: Sequence[str]) -> alt.Shape:
    return alt.Shape(f"{key}:N", title="measured by", scale=alt.Scale(domain=list(names), range=list(shapes)))

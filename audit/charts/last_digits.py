"""Are some last digits written more often than others? A chart."""

from __future__ import annotations

from typing import TYPE_CHECKING

import altair as alt

from audit.charts.layers import Axis, dressed
from audit.charts.palette import BAND, INK, LINE

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["chart"]

_WIDTH, _HEIGHT = 420, 180
_TEN = 10


def chart(what: str, who: str, counts: Sequence[int]) -> alt.LayerChart | None:
    """Draw how often each last digit was written beside how often it would be without any habit.

    Parameters
    ----------
    what, who : str
        What was measured, by whom.
    counts : sequence of int
        Values that end in 0, 1 ... 9.

    Returns
    -------
    altair.LayerChart or None
        None without values.
    """
    n = sum(counts)
    if not n:
        return None
    even = n / _TEN
    x = Axis("last digit", (-0.6, 9.6), {"values": list(range(_TEN)), "grid": False})
    y = Axis("values", (0.0, max(*counts, even) * 1.15))
    values = [
        {"x": digit - 0.4, "x2": digit + 0.4, "y": times, "y2": 0} for digit, times in enumerate(counts)
    ]
    layers = [
        alt.Chart(alt.InlineData(values=values))
        .mark_rect(color=BAND, stroke=LINE, strokeWidth=1)
        .encode(x.x(), y.y(), x2="x2:Q", y2="y2:Q", tooltip=[alt.Tooltip("y:Q", title="values")]),
        alt.Chart(alt.InlineData(values=[{"x": x.room[0], "x2": x.room[1], "y": even}]))
        .mark_rule(color=INK, strokeDash=[5, 3], aria=False)
        .encode(x.x(), y.y(), x2="x2:Q"),
    ]
    told = ", ".join(f"{digit}: {times}" for digit, times in enumerate(counts))
    return dressed(
        layers,
        f"{what}: does {who} favour last digits?",
        f"{n} values; broken line: {even:.1f} of each without any habit",
        f"{what} by {who}: how often each last digit was written. {told}.",
        _WIDTH,
        _HEIGHT,
    )

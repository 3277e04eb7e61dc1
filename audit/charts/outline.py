"""A chart of layers as plain records: worked out where the season is, drawn where the drawing library is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from audit.charts.layers import (
    Axis,
    bags_layers,
    band_layers,
    centre_layer,
    counts_layer,
    days_layer,
    dressed,
    marked_layer,
    plain_layer,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    import altair as alt

    from audit.charts.marked import Point

__all__ = ["Outline"]

#: Kind of layer -> what draws it.
_LAYERS: Mapping[str, Callable[[Sequence[Point], Axis, Axis], list[alt.Chart]]] = {
    "plain": lambda rows, x, y: [plain_layer(rows, x, y)],
    "counts": lambda rows, x, y: [counts_layer(rows, x, y)],
    "marked": lambda rows, x, y: [marked_layer(rows, x, y)],
    "band": band_layers,
    "centre": lambda rows, x, y: [centre_layer(rows, x, y)],
    "days": lambda rows, x, y: [days_layer(rows, x, y)],
    "bags": bags_layers,
}


@dataclass(frozen=True, slots=True)
class Outline:
    """What a chart shows.

    Attributes
    ----------
    title, below, description : str
        The question, what is shown and what is not, and all of it in words.
    x, y : Axis
        Shared by all layers.
    layers : sequence of (kind, rows)
        From the lowest on.
    width : int
        Of the picture, in pixels.
    """

    title: str
    below: str
    description: str
    x: Axis
    y: Axis
    layers: Sequence[tuple[str, Sequence[Point]]]
    width: int

    def draw(self) -> alt.LayerChart:
        """Draw it."""
        drawn = [layer for kind, rows in self.layers for layer in _LAYERS[kind](rows, self.x, self.y)]
        return dressed(drawn, self.title, self.below, self.description, self.width)

    def as_values(self) -> dict[str, Any]:
        """Write it as plain values for JSON."""
        axes = {
            name: [axis.title, list(axis.room), dict(axis.settings)]
            for name, axis in (("x", self.x), ("y", self.y))
        }
        said = {name: getattr(self, name) for name in ("title", "below", "description", "layers", "width")}
        return {**said, **axes}

    @classmethod
    def from_values(cls, values: Mapping[str, Any]) -> Outline:
        """Read what `as_values` wrote."""
        axes = {
            name: Axis(title, tuple(room), settings)
            for name in "xy"
            for title, room, settings in [values[name]]
        }
        return cls(**{**values, **axes})

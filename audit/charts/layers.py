"""Layers and dress that all charts share."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from audit.charts.palette import BAND, GRID, INK, LINE, PAPER, PLAIN, QUIET, TONES

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import altair as alt

    from audit.charts.marked import Point, Points

__all__ = [
    "Axis",
    "bags_layers",
    "band_layers",
    "centre_layer",
    "counts_layer",
    "days_layer",
    "dressed",
    "marked_layer",
    "plain_layer",
    "subtitle",
]

_FONT = "Helvetica, Arial, sans-serif"
_HEIGHT = 300
#: Channels that each layer scales by itself.
_OWN: Mapping[str, Any] = dict.fromkeys(("color", "shape", "fill", "stroke", "size"), "independent")
_TIP = {"row": "where", "box": "box", "date": "date", "ring": "ring"}


@dataclass(frozen=True, slots=True)
class Axis:
    """Title, range and further settings of one axis."""

    title: str
    room: tuple[float, float]
    settings: Mapping[str, Any] = field(default_factory=dict)

    def scale(self) -> alt.Scale:
        """Keep the range as given; what lies beyond stands at the edge."""
        import altair as alt

        return alt.Scale(domain=list(self.room), nice=False, zero=False, clamp=True)

    def holds(self, value: float) -> bool:
        """Whether a value lies in the range."""
        return min(self.room) <= value <= max(self.room)

    def x(self, of: str = "x") -> alt.X:
        """Encode a field along this axis."""
        import altair as alt

        return alt.X(f"{of}:Q", title=self.title, scale=self.scale(), axis=alt.Axis(**self.settings))

    def y(self, of: str = "y") -> alt.Y:
        """Encode a field along this axis."""
        import altair as alt

        return alt.Y(f"{of}:Q", title=self.title, scale=self.scale(), axis=alt.Axis(**self.settings))


def _tooltip(point: Point) -> list[alt.Tooltip]:
    import altair as alt

    return [alt.Tooltip(f"{key}:N", title=title) for key, title in _TIP.items() if key in point]


def plain_layer(plain: Sequence[Point], x: Axis, y: Axis) -> alt.Chart:
    """Points that nothing is said about."""
    import altair as alt

    layer: alt.Chart = (
        alt.Chart(alt.InlineData(values=tuple(plain)))
        .mark_point(shape="circle", filled=True, size=22, color=PLAIN, opacity=0.55, aria=False)
        .encode(x.x(), y.y(), tooltip=_tooltip(plain[0]) if plain else [])
    )
    return layer


def counts_layer(counted: Sequence[Point], x: Axis, y: Axis, *, opacity: float = 1.0) -> alt.Chart:
    """Cells of a grid, darker where more birds are."""
    import altair as alt

    layer: alt.Chart = (
        alt.Chart(alt.InlineData(values=tuple(counted)))
        .mark_rect(aria=False, opacity=opacity)
        .encode(
            x.x(),
            y.y(),
            x2=alt.X2("x2:Q"),
            y2=alt.Y2("y2:Q"),
            color=alt.Color(
                "n:Q",
                title="birds",
                scale=alt.Scale(type="log", range=[GRID, QUIET], domainMin=1),
                legend=alt.Legend(tickCount=4, gradientLength=80),
            ),
            tooltip=[alt.Tooltip("n:Q", title="birds")],
        )
    )
    return layer


def marked_layer(marked: Sequence[Point], x: Axis, y: Axis) -> alt.Chart:
    """Errors and suspects: shape and colour by severity; beyond the axis they stand at its edge."""
    import altair as alt

    tones = [tone for severity, tone in TONES.items() if severity != "note"]
    words = [tone.word for tone in tones]
    layer: alt.Chart = (
        alt.Chart(alt.InlineData(values=tuple(marked)))
        .mark_point(filled=True, size=95, opacity=1, stroke=PAPER, strokeWidth=0.8, aria=False)
        .encode(
            x.x(),
            y.y(),
            shape=alt.Shape(
                "severity:N", title=None, scale=alt.Scale(domain=words, range=[tone.shape for tone in tones])
            ),
            color=alt.Color(
                "severity:N", title=None, scale=alt.Scale(domain=words, range=[tone.mark for tone in tones])
            ),
            tooltip=[
                *(_tooltip(marked[0]) if marked else []),
                alt.Tooltip("severity:N", title="severity"),
                alt.Tooltip("message:N", title="message"),
            ],
        )
    )
    return layer


def band_layers(band: Sequence[Point], x: Axis, y: Axis) -> list[alt.Chart]:
    """Draw a band of one and two standard deviations."""
    import altair as alt

    base = alt.Chart(alt.InlineData(values=tuple(band))).encode(x.x())
    wide = base.mark_area(color=BAND, opacity=0.45, aria=False).encode(y.y("low2"), y2="high2:Q")
    narrow = base.mark_area(color=BAND, opacity=0.7, aria=False).encode(y.y("low1"), y2="high1:Q")
    return [wide, narrow]


def centre_layer(band: Sequence[Point], x: Axis, y: Axis) -> alt.Chart:
    """Draw the line in the middle of a band."""
    import altair as alt

    base = alt.Chart(alt.InlineData(values=tuple(band))).encode(x.x())
    line: alt.Chart = base.mark_line(color=LINE, aria=False).encode(y.y())
    return line


def days_layer(values: Sequence[Point], x: Axis, y: Axis) -> alt.Chart:
    """Draw one line through the values of each day."""
    import altair as alt

    lines: alt.Chart = (
        alt.Chart(alt.InlineData(values=tuple(values)))
        .mark_line(color=PLAIN, strokeWidth=1, aria=False)
        .encode(x.x(), y.y(), detail="day:N")
    )
    return lines


def bags_layers(values: Sequence[Point], x: Axis, y: Axis) -> list[alt.Chart]:
    """Draw a bar from the lightest bag of each day to the heaviest, and a line through the middle ones."""
    import altair as alt

    base = alt.Chart(alt.InlineData(values=tuple(values))).encode(x.x())
    bars = base.mark_rule(color=BAND, strokeWidth=4, aria=False).encode(y.y("low"), y2="high:Q")
    middle = base.mark_line(color=LINE, aria=False).encode(y.y())
    return [bars, middle]


def subtitle(shown: Points, x: Axis, y: Axis, *clauses: str) -> str:
    """Say what is shown and what is not."""
    said = [clause for clause in clauses if clause]
    beyond = sum(not (x.holds(point["x"]) and y.holds(point["y"])) for point in shown.marked)
    if beyond:
        said.append(f"{beyond:,} marked beyond the axes, at the edge")
    if shown.left_out:
        said.append(f"{shown.left_out:,} more marked birds are not drawn")
    return "; ".join(said)


def dressed(
    layers: Sequence[alt.Chart],
    title: str,
    below: str | Sequence[str],
    description: str,
    width: int,
    height: int = _HEIGHT,
) -> alt.LayerChart:
    """Lay layers over one another under a title that asks the chart's question; `below` may be lines."""
    import altair as alt

    shown = alt.TitleParams(
        title, subtitle=below if isinstance(below, str) else list(below), anchor="start", offset=10
    )
    # each call copies the chart with all its layers, so there are few
    drawn: alt.LayerChart = alt.layer(
        *layers,
        title=shown,
        width=width,
        height=height,
        description=description,
        resolve=alt.Resolve(scale=alt.ScaleResolveMap(**_OWN)),
    ).configure(
        font=_FONT,
        background=PAPER,
        view=alt.ViewConfig(stroke=GRID),
        axis=alt.AxisConfig(
            gridColor=GRID,
            gridOpacity=0.6,
            domainColor=QUIET,
            tickColor=QUIET,
            labelColor=QUIET,
            titleColor=INK,
            titleFontWeight="normal",
        ),
        title=alt.TitleConfig(
            color=INK, fontSize=14, fontWeight="bold", subtitleColor=QUIET, subtitleFontSize=11
        ),
        legend=alt.LegendConfig(labelColor=INK, titleColor=QUIET, titleFontWeight="normal", symbolSize=90),
    )
    return drawn

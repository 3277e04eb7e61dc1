"""A chart as a still picture that needs no JavaScript and no network."""

from __future__ import annotations

import base64
import html
import re
from typing import TYPE_CHECKING

from audit.charts.beside import begin_drawing, begin_outline
from audit.charts.specification import printable, specified

if TYPE_CHECKING:
    from collections.abc import Callable

    import altair as alt

    from audit.charts.outline import Outline

__all__ = ["begin_still", "begin_still_outline", "description_of", "still", "still_image"]

_PLACES = re.compile(r' (d|transform)="([^"]*)"')
_LONG = re.compile(r"(\.[0-9]{2})[0-9]+")


def still(chart: alt.LayerChart, name: str = "chart") -> str:
    """Draw a chart as SVG text, ready to stand inside a page.

    Parameters
    ----------
    name : str, optional
        Put before the identities inside the picture, so that several can stand in one page.
    """
    return begin_still(chart, name)()


def begin_still(chart: alt.LayerChart, name: str = "chart") -> Callable[[], str]:
    """Begin to draw a chart as `still` does; what is returned gives the picture when it is there."""
    drawn = begin_drawing(*specified(chart))
    label = html.escape(description_of(chart))
    return lambda: _ready(drawn(), name, label)


def begin_still_outline(outline: Outline, name: str) -> tuple[Callable[[], str], str]:
    """Begin to draw an outlined chart; return what gives the picture, and what it shows in words."""
    drawn = begin_outline(outline)
    said = printable(outline.description)
    return lambda: _ready(drawn(), name, html.escape(said)), said


def _ready(svg: str, name: str, label: str) -> str:
    """Make a drawn picture ready to stand inside a page."""
    svg = re.sub(r'\bid="([A-Za-z_]+[0-9]+)"', rf'id="{name}-\1"', svg)
    svg = re.sub(r"url\(#([A-Za-z_]+[0-9]+)\)", rf"url(#{name}-\1)", svg)
    svg = _PLACES.sub(_shorter, svg)
    return svg.replace("<svg ", f'<svg role="img" aria-label="{label}" ', 1)


def _shorter(places: re.Match[str]) -> str:
    """Cut places to hundredths of a pixel: a seventh of a picture is digits that nobody sees."""
    cut = _LONG.sub(r"\1", places[2])
    return f' {places[1]}="{cut}"'


def still_image(chart: alt.LayerChart) -> str:
    """Draw a chart as an HTML image that holds its picture, for a page that takes no SVG as it is.

    A notebook that comes from elsewhere is such a page.
    """
    picture = base64.b64encode(still(chart).encode()).decode()
    label = html.escape(description_of(chart))
    return f'<img alt="{label}" style="max-width:100%" src="data:image/svg+xml;base64,{picture}">'


def description_of(chart: alt.LayerChart) -> str:
    """Say in words what a chart shows."""
    said = chart.description if isinstance(chart.description, str) else ""
    return printable(said)

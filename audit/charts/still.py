"""A chart as a still picture that needs no JavaScript and no network."""

from __future__ import annotations

import base64
import html
import re
from typing import TYPE_CHECKING, Any

from audit.charts.beside import begin_drawing

if TYPE_CHECKING:
    from collections.abc import Callable

    import altair as alt

__all__ = ["begin_still", "description_of", "still", "still_image"]

#: Signs that no XML may hold (XML 1.0, production 2): a picture with one would not be shown.
_NOT_XML = re.compile(r"[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_ESCAPED = re.compile(r"\\u00(?:0[0-8bcef]|1[0-9a-f])|\\ufff[ef]")
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
    from altair import SCHEMA_VERSION

    version = ".".join(SCHEMA_VERSION.removeprefix("v").split(".")[:2])
    # the tests hold every chart against the schema of the drawing language, which takes long
    drawn = begin_drawing(_shown(chart.to_dict(validate=False)), version)
    label = html.escape(description_of(chart))
    return lambda: _ready(drawn(), name, label)


def _ready(svg: str, name: str, label: str) -> str:
    """Make a drawn picture ready to stand inside a page."""
    svg = re.sub(r'\bid="([A-Za-z_]+[0-9]+)"', rf'id="{name}-\1"', svg)
    svg = re.sub(r"url\(#([A-Za-z_]+[0-9]+)\)", rf"url(#{name}-\1)", svg)
    svg = _PLACES.sub(_shorter, svg)
    return svg.replace("<svg ", f'<svg role="img" aria-label="{label}" ', 1)


def _shown(part: Any) -> Any:  # noqa: ANN401 - any part of a specification
    """Put the replacement sign for signs that cannot be shown: the drawing program ends at a NUL, and all."""
    if isinstance(part, str):
        return _NOT_XML.sub("\N{REPLACEMENT CHARACTER}", part)
    if isinstance(part, dict):
        shown = {key: _shown(value) for key, value in part.items()}
        if isinstance(shown.get("labelExpr"), str):
            # texts written inside an expression, where such signs are escaped
            shown["labelExpr"] = _ESCAPED.sub("\N{REPLACEMENT CHARACTER}", shown["labelExpr"])
        return shown
    return [_shown(value) for value in part] if isinstance(part, list) else part


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
    return _NOT_XML.sub("\N{REPLACEMENT CHARACTER}", said)

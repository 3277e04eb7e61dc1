"""A chart as a still picture that needs no JavaScript and no network."""

from __future__ import annotations

import html
import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import altair as alt

__all__ = ["description_of", "still"]


def still(chart: alt.LayerChart, name: str = "chart") -> str:
    """Draw a chart as SVG text, ready to stand inside a page.

    Parameters
    ----------
    name : str, optional
        Put before the identities inside the picture, so that several can stand in one page.
    """
    import vl_convert
    from altair import SCHEMA_VERSION

    version = ".".join(SCHEMA_VERSION.removeprefix("v").split(".")[:2])
    svg = str(vl_convert.vegalite_to_svg(chart.to_dict(), vl_version=version))
    svg = re.sub(r'\bid="([A-Za-z_]+[0-9]+)"', rf'id="{name}-\1"', svg)
    svg = re.sub(r"url\(#([A-Za-z_]+[0-9]+)\)", rf"url(#{name}-\1)", svg)
    label = html.escape(description_of(chart))
    return svg.replace("<svg ", f'<svg role="img" aria-label="{label}" ', 1)


def description_of(chart: alt.LayerChart) -> str:
    """Say in words what a chart shows."""
    return chart.description if isinstance(chart.description, str) else ""

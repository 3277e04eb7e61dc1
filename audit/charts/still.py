"""A chart as a still picture that needs no JavaScript and no network."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import altair as alt

__all__ = ["still"]


def still(chart: alt.TopLevelMixin) -> str:
    """Draw a chart as SVG text, ready to stand inside a page."""
    import vl_convert
    from altair import SCHEMA_VERSION

    version = ".".join(SCHEMA_VERSION.removeprefix("v").split(".")[:2])
    return str(vl_convert.vegalite_to_svg(chart.to_dict(), vl_version=version))

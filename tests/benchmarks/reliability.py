"""Plot of what was said against what was seen, as SVG and PNG."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import altair as alt
import numpy as np
import pandas as pd
import vl_convert

from audit.charts.palette import GRID, INK, LINE, PLAIN, QUIET, TONES

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["draw", "interval"]

SIDE = 300
Z95 = 1.959964


def interval(right: float, n: float) -> tuple[float, float]:
    """Wilson's 95 % interval of a share.

    References
    ----------
    Wilson 1927, J. Am. Stat. Assoc. 22:209 (formula from memory).
    """
    share, z2 = right / n, Z95**2
    middle = (share + z2 / (2 * n)) / (1 + z2 / n)
    half = Z95 / (1 + z2 / n) * np.sqrt(share * (1 - share) / n + z2 / (4 * n**2))
    return float(max(0.0, middle - half)), float(min(1.0, middle + half))


def draw(figures: dict[str, Any], folder: Path) -> list[Path]:
    """Write ``reliability.svg`` and ``reliability.png``."""
    told, fixes = figures["calibration"], figures["suggestions"]
    panels = [
        _panel(told["table"], "Cell is wrong", told["error (20 bins)"], TONES["error"].mark, "share wrong"),
        _panel(
            fixes["table"],
            "Suggestion is right",
            fixes["error (20 bins)"],
            LINE,
            "share of right suggestions",
        ),
    ]
    seeds, seasons = figures["seeds"], sum(figures["seasons"].values())
    chart = (
        alt.hconcat(*panels, spacing=36)
        .properties(
            title=alt.TitleParams(
                "What the audit says, and how often it is so",
                subtitle=f"{seasons} invented seasons, seeds {seeds[0]} to {seeds[-1]}; "
                "bars: 95 % interval; area of a point: number of cells",
                anchor="start",
                color=INK,
                subtitleColor=QUIET,
            )
        )
        .configure_axis(gridColor=GRID, domainColor=GRID, tickColor=GRID, labelColor=QUIET, titleColor=INK)
        .configure_view(stroke=None)
    )
    folder.mkdir(parents=True, exist_ok=True)
    version = ".".join(alt.SCHEMA_VERSION.removeprefix("v").split(".")[:2])
    svg, png = folder / "reliability.svg", folder / "reliability.png"
    svg.write_text(vl_convert.vegalite_to_svg(chart.to_dict(), vl_version=version), encoding="utf-8")
    png.write_bytes(vl_convert.vegalite_to_png(chart.to_dict(), vl_version=version, scale=2))
    return [svg, png]


def _panel(
    table: list[dict[str, float]], title: str, error: float | None, colour: str, seen: str
) -> alt.LayerChart:
    frame = pd.DataFrame(table, columns=["low", "high", "n", "said", "seen"])
    ends = [interval(line["seen"] * line["n"], line["n"]) for line in table]
    frame["from"], frame["to"] = [low for low, _ in ends], [high for _, high in ends]
    scale = alt.Scale(domain=[0, 1], nice=False)
    x = alt.X("said:Q", scale=scale, title="probability said")
    points = alt.Chart(frame)
    layers = [
        alt.Chart(pd.DataFrame({"p": [0, 1]}))
        .mark_line(color=PLAIN, strokeDash=[4, 4], strokeWidth=1)
        .encode(x=alt.X("p:Q", scale=scale), y=alt.Y("p:Q", scale=scale)),
        points.mark_rule(color=colour, strokeWidth=1.5).encode(
            x=x, y=alt.Y("from:Q", scale=scale), y2="to:Q"
        ),
        points.mark_circle(color=colour, opacity=1, stroke="white", strokeWidth=1).encode(
            x=x,
            y=alt.Y("seen:Q", scale=scale, title=seen),
            size=alt.Size("n:Q", scale=alt.Scale(type="sqrt", range=[20, 400]), legend=None),
        ),
    ]
    off = "no cells" if error is None else f"expected calibration error {error:.3f} (20 bins)"
    return alt.layer(*layers).properties(
        width=SIDE,
        height=SIDE,
        title=alt.TitleParams(
            f"{title}: {off}, n {int(frame['n'].sum())}", fontSize=12, anchor="start", color=INK
        ),
    )

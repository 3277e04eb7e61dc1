"""The layers of the picture of rows and reads, drawn from spots."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import altair as alt

from audit.charts.download_spots import AGREE, DIFFER, TAG_END, WIDTH
from audit.charts.palette import INK, PAPER, QUIET, TONES
from audit.charts.records import CHOSEN, chosen_param, picked_param

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from audit.charts.download_lines import Beside
    from audit.charts.download_spots import Spot

__all__ = ["link_layers", "point_layers", "row_layers", "text_layers"]

_SIZE = 11
_FIXED = "Menlo, Consolas, 'DejaVu Sans Mono', monospace"
#: Alignment, font and weight of each kind of text.
_STYLES: Mapping[str, Mapping[str, Any]] = {
    "left": {"align": "left"},
    "word_right": {"align": "right", "fontWeight": "bold", "fontSize": 10},
    "word_left": {"align": "left", "fontWeight": "bold", "fontSize": 10},
    "word": {"align": "center", "fontWeight": "bold", "fontSize": 10},
    "typed": {"align": "right", "font": _FIXED},
    "read": {"align": "left", "font": _FIXED},
    "typed_mark": {"align": "right", "font": _FIXED, "fontWeight": "bold"},
    "read_mark": {"align": "left", "font": _FIXED, "fontWeight": "bold"},
}


def _x() -> alt.X:
    return alt.X("x:Q", scale=alt.Scale(domain=[0, WIDTH], nice=False, zero=False))


def _y(room: tuple[float, float]) -> alt.Y:
    return alt.Y("y:Q", scale=alt.Scale(domain=list(room), nice=False, zero=False))


def row_layers(
    beside: Beside, at_row: Mapping[int, int], room: tuple[float, float], lit: str
) -> Iterator[alt.Chart]:
    """Lay a field below each row, which catches the mouse, and a frame around the one that is lit up."""
    half = 1 / 2
    fields = [
        {"label": beside.rows[row].label, "y": level - half, "y2": level + half}
        for row, level in at_row.items()
    ]
    base = alt.Chart(alt.InlineData(values=fields)).encode(
        _y(room), x=alt.value(0), x2=alt.value(TAG_END + 4), y2=alt.Y2("y2:Q")
    )
    yield (
        base.mark_rect(fill=PAPER, stroke=INK, strokeWidth=1.5, aria=False)
        .transform_filter(f"datum.label === {CHOSEN}")
        .add_params(chosen_param(lit))
    )
    yield (
        base.mark_rect(opacity=0, aria=False, cursor="pointer")
        .properties(name="records")
        .add_params(picked_param())
    )


def link_layers(links: Sequence[Spot], room: tuple[float, float]) -> list[alt.Chart]:
    """Draw lines between rows and the reads that belong to them."""
    # a legend of nothing has no place: it pushes everything else out of its own
    if not links:
        return []
    layer: alt.Chart = (
        alt.Chart(alt.InlineData(values=list(links)))
        .mark_rule(strokeWidth=2, aria=False)
        .encode(
            _x(),
            _y(room),
            x2="x2:Q",
            y2="y2:Q",
            color=alt.Color("ink:N", scale=None),
            strokeDash=alt.StrokeDash(
                "line:N",
                title=None,
                scale=alt.Scale(domain=[AGREE, DIFFER], range=[[1, 0], [5, 4]]),
                legend=alt.Legend(
                    orient="bottom", direction="horizontal", symbolSize=500, symbolStrokeColor=QUIET
                ),
            ),
            tooltip=[
                alt.Tooltip(f"{key}:N", title=title)
                for key, title in (
                    ("row", "where"),
                    ("typed", "typed"),
                    ("read", "read"),
                    ("at", "at"),
                    ("stored", "stored as"),
                    ("message", "message"),
                )
            ],
        )
    )
    return [layer]


def text_layers(texts: Sequence[Spot], room: tuple[float, float]) -> Iterator[alt.Chart]:
    """Write all texts, each kind in its own way."""
    for style, way in _STYLES.items():
        values = [text for text in texts if text["style"] == style]
        if not values:
            continue
        base = alt.Chart(alt.InlineData(values=values))
        dressing: Spot = {"baseline": "middle", "fontSize": _SIZE, "aria": False, **way}
        if style == "word":
            halo: Spot = {"stroke": PAPER, "strokeWidth": 4, "strokeJoin": "round", "color": PAPER}
            yield base.mark_text(**dressing, **halo).encode(_x(), _y(room), text="text:N")
        yield base.mark_text(**dressing).encode(
            _x(), _y(room), text="text:N", color=alt.Color("ink:N", scale=None)
        )


def point_layers(points: Sequence[Spot], room: tuple[float, float]) -> list[alt.Chart]:
    """Mark the rows that a finding blames."""
    marked = [point for point in points if point["severity"]]
    if not marked:
        return []
    tones = [tone for tone in TONES.values() if any(point["severity"] == tone.word for point in marked)]
    words = [tone.word for tone in tones]
    legend = alt.Legend(orient="top", direction="horizontal")
    layer: alt.Chart = (
        alt.Chart(alt.InlineData(values=marked))
        .mark_point(filled=True, size=80, opacity=1, aria=False)
        .encode(
            _x(),
            _y(room),
            shape=alt.Shape(
                "severity:N",
                title=None,
                scale=alt.Scale(domain=words, range=[tone.shape for tone in tones]),
                legend=legend,
            ),
            color=alt.Color(
                "severity:N",
                title=None,
                scale=alt.Scale(domain=words, range=[tone.mark for tone in tones]),
                legend=legend,
            ),
            tooltip=[
                alt.Tooltip(f"{key}:N", title=title)
                for key, title in (
                    ("ring", "ring"),
                    ("tag", "tag"),
                    ("meant", "probably meant"),
                    ("severity", "severity"),
                    ("message", "message"),
                )
            ],
        )
    )
    return [layer]

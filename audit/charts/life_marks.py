"""Lines and points of the life lines of a box."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import altair as alt

from audit.charts.palette import PAPER, PLAIN, QUIET, TONES
from audit.charts.records import picked_param

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from audit.charts.layers import Axis
    from audit.charts.meeting_links import Kind, Link
    from audit.charts.meetings import Meeting
    from audit.findings import Severity

    Row = dict[str, Any]

__all__ = ["line_layers", "line_row", "point_layer", "point_row"]

_POINT, _MARKED_POINT = 70, 130
_QUIET_WORD = "no finding"
_QUIET_SHAPE = "circle"
#: What a line says, how it is dashed, how thick it is.
_LINES: Mapping[Kind, tuple[str, list[float], float]] = {
    "together": ("ring and tag stay together", [1, 0], 3.0),
    "alone": ("same ring, a tag not written", [8, 3], 1.5),
    "parted": ("same ring, another tag", [1, 4], 1.5),
    "jump": ("same tag, another ring", [5, 4], 2.0),
}


def line_row(link: Link, spots: Mapping[str, tuple[float, float]]) -> Row:
    """Describe the line of a link."""
    (x, y), (x2, y2) = spots[link.earlier.label], spots[link.later.label]
    # what stays together is nothing to look at, whatever else is said of the two rows
    severity = link.severity if link.kind == "jump" else None
    line = _LINES[link.kind][0]
    return {"x": x, "y": y, "x2": x2, "y2": y2, "line": line, "kind": link.kind, "severity": _look(severity)}


def line_layers(lines: Sequence[Row], x: Axis, y: Axis) -> list[alt.Chart]:
    """Draw the lines, each kind in its own dashes."""
    kinds = [kind for kind in _LINES if any(line["kind"] == kind for line in lines)]
    words = [_LINES[kind][0] for kind in kinds]
    dashes = alt.StrokeDash(
        "line:N",
        title=None,
        scale=alt.Scale(domain=words, range=[_LINES[kind][1] for kind in kinds]),
        legend=alt.Legend(
            orient="bottom", direction="horizontal", symbolSize=500, symbolStrokeColor=QUIET, labelLimit=220
        ),
    )
    made = []
    for kind in kinds:
        layer = (
            alt.Chart(alt.InlineData(values=[line for line in lines if line["kind"] == kind]))
            .mark_rule(strokeWidth=_LINES[kind][2], aria=False)
            .encode(
                x.x(),
                y.y(),
                x2="x2:Q",
                y2="y2:Q",
                strokeDash=dashes,
                color=alt.Color("severity:N", scale=_tones(), legend=None),
            )
        )
        made.append(layer)
    return made


def point_row(meeting: Meeting, spots: Mapping[str, tuple[float, float]]) -> Row:
    """Describe the point of a handling."""
    x, y = spots[meeting.label]
    sheet, _, number = meeting.label.rpartition("!")
    severity = meeting.told.severity if meeting.told else None
    mark = TONES[severity].mark if severity else PLAIN
    return {
        "x": x,
        "y": y,
        "row": f"{sheet}, row {number}",
        "box": meeting.box,
        "date": meeting.day,
        "ring": meeting.ring,
        "tag": meeting.shown,
        "event": "met again" if meeting.again else "first ringing",
        "fill": PAPER if meeting.again else mark,
        "severity": _look(severity),
        "remark": meeting.remark,
        "message": " ".join(meeting.told.messages) if meeting.told else "",
        "label": meeting.label,
    }


def point_layer(points: Sequence[Row], x: Axis, y: Axis, *, pickable: bool) -> alt.Chart:
    """Draw the points; where they can be picked, picking one tells which."""
    present = {point["severity"] for point in points}
    looks = [(tone.word, tone.shape, tone.mark) for tone in TONES.values()]
    looks = [look for look in [*looks, (_QUIET_WORD, _QUIET_SHAPE, PLAIN)] if look[0] in present]
    words = [word for word, _, _ in looks]
    legend = alt.Legend(orient="top", direction="horizontal", symbolFillColor=PAPER)
    marks = alt.Scale(domain=words, range=[mark for _, _, mark in looks])
    layer: alt.Chart = (
        alt.Chart(alt.InlineData(values=list(points)))
        .mark_point(filled=False, opacity=1, strokeWidth=2, aria=False)
        .encode(
            x.x(),
            y.y(),
            shape=alt.Shape(
                "severity:N",
                title=None,
                scale=alt.Scale(domain=words, range=[shape for _, shape, _ in looks]),
                legend=legend,
            ),
            color=alt.Color("severity:N", title=None, scale=marks, legend=legend),
            fill=alt.Fill("fill:N", scale=None),
            size=alt.condition(
                alt.datum.severity == _QUIET_WORD, alt.value(_POINT), alt.value(_MARKED_POINT)
            ),
            tooltip=[
                alt.Tooltip(f"{key}:N", title=title)
                for key, title in (
                    ("row", "where"),
                    *(
                        (same, same)
                        for same in ("box", "date", "ring", "tag", "event", "remark", "severity", "message")
                    ),
                )
            ],
        )
    )
    return layer.add_params(picked_param()).properties(name="records") if pickable else layer


def _look(severity: Severity | None) -> str:
    return TONES[severity].word if severity else _QUIET_WORD


def _tones() -> alt.Scale:
    return alt.Scale(
        domain=[*(tone.word for tone in TONES.values()), _QUIET_WORD],
        range=[*(tone.mark for tone in TONES.values()), PLAIN],
    )

"""What the process beside does: it draws picture after picture, each asked for and answered in one line."""

from __future__ import annotations

import json
from typing import IO, Any

from audit.charts.layers import Axis
from audit.charts.outline import Outline
from audit.charts.specification import specified
from audit.charts.trusted import trusted

__all__ = ["answer_all", "draw_outline"]

_POINT = {
    "x": 1.0,
    "y": 1.0,
    "row": "handlings, row 2",
    "box": "SL-01",
    "date": "2026-06-01",
    "ring": "SV00001",
}
#: Drawn at once: when the first picture is asked for, the program has started and knows layers of each kind.
_BEFOREHAND = Outline(
    "What is drawn first?",
    "nothing that anybody sees",
    "One bird.",
    Axis("wing, mm", (0.0, 2.0), {"values": [1], "labelExpr": '({"1": "SV00001"})[datum.value]'}),
    Axis("net mass, g", (0.0, 2.0)),
    [
        ("band", [{"x": 1.0, "low1": 0.5, "high1": 1.5, "low2": 0.0, "high2": 2.0}]),
        ("counts", [{"x": 0.0, "x2": 1.0, "y": 0.0, "y2": 1.0, "n": 1}]),
        ("days", [{**_POINT, "day": 0}]),
        ("bags", [{"x": 1.0, "y": 1.0, "low": 0.5, "high": 1.5}]),
        ("plain", [_POINT]),
        ("centre", [{"x": 1.0, "y": 1.0}]),
        ("marked", [{**_POINT, "severity": "error", "message": "1 g off."}]),
    ],
    width=300,
)


def answer_all(asked: IO[bytes], answered: IO[bytes]) -> None:
    """Answer line by line with the picture as SVG text; with an empty one where none can be drawn."""
    draw_outline(_BEFOREHAND)
    for line in asked:
        try:
            drawn = _answer(json.loads(line))
        except Exception:  # noqa: BLE001 - whoever asked draws it and learns what is wrong
            drawn = ""
        answered.write(json.dumps(drawn).encode() + b"\n")
        answered.flush()


def _answer(asked: dict[str, Any]) -> str:
    import vl_convert

    if "layers" in asked:
        return draw_outline(Outline.from_values(asked))
    return str(vl_convert.vegalite_to_svg(asked["specification"], vl_version=asked["version"]))


def draw_outline(outline: Outline) -> str:
    """Draw an outlined chart as SVG text."""
    import vl_convert

    with trusted():
        specification, version = specified(outline.draw())
    return str(vl_convert.vegalite_to_svg(specification, vl_version=version))

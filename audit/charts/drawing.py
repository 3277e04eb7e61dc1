"""What the process beside does: it draws picture after picture, each asked for and answered in one line."""

from __future__ import annotations

import json
from typing import IO, TYPE_CHECKING, Any

from audit.charts.outline import Outline
from audit.charts.specification import language_version, specified
from audit.charts.trusted import trusted

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["answer_all", "draw_outline"]

#: Drawn at once, so that the program has started when it is needed.
_NOTHING: Mapping[str, Any] = {"data": {"values": []}, "mark": "point"}


def answer_all(asked: IO[bytes], answered: IO[bytes]) -> None:
    """Answer line by line with the picture as SVG text; with an empty one where none can be drawn."""
    import vl_convert

    vl_convert.vegalite_to_svg(dict(_NOTHING), vl_version=language_version())
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

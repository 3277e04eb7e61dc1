"""A chart as text of the drawing language, without signs that no picture can show."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import altair as alt

__all__ = ["language_version", "printable", "specified"]

#: Signs that no XML may hold (XML 1.0, production 2): a picture with one would not be shown.
_NOT_XML = re.compile(r"[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_ESCAPED = re.compile(r"\\u00(?:0[0-8bcef]|1[0-9a-f])|\\ufff[ef]")


def specified(chart: alt.LayerChart) -> tuple[dict[str, Any], str]:
    """Return a chart as Vega-Lite has it, and the version of Vega-Lite."""
    # the tests hold every chart against the schema of the drawing language, which takes long
    specification: dict[str, Any] = _shown(chart.to_dict(validate=False))
    return specification, language_version()


def language_version() -> str:
    """Return the version of Vega-Lite, such as ``"6.1"``."""
    from altair import SCHEMA_VERSION

    return ".".join(SCHEMA_VERSION.removeprefix("v").split(".")[:2])


def printable(text: str) -> str:
    """Put the replacement sign for signs that cannot be shown."""
    return _NOT_XML.sub("\N{REPLACEMENT CHARACTER}", text)


def _shown(part: Any) -> Any:  # noqa: ANN401 - any part of a specification
    """Put the replacement sign for signs that cannot be shown: the drawing program ends at a NUL, and all."""
    if isinstance(part, str):
        return printable(part)
    if isinstance(part, dict):
        shown = {key: _shown(value) for key, value in part.items()}
        if isinstance(shown.get("labelExpr"), str):
            # texts written inside an expression, where such signs are escaped
            shown["labelExpr"] = _ESCAPED.sub("\N{REPLACEMENT CHARACTER}", shown["labelExpr"])
        return shown
    return [_shown(value) for value in part] if isinstance(part, list) else part

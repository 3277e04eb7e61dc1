"""Values of blamed cells in the words of a picture."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from audit.charts.palette import TONES
from audit.charts.suspected import number_of, percent
from audit.charts.wording import clipped

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from audit.charts.handled import Handled
    from audit.charts.records import Sketch
    from audit.charts.suspected import Blamed, Meant

    At = tuple[float, float]

__all__ = ["FEW", "draw_blamed", "in_words", "said_of", "who"]

#: Blamed rows up to which each has its words.
FEW = 3
_ABOVE, _BELOW = -14, 14
_UNITS = {"gross_g": "g", "bag_g": "g", "net_g": "g", "wing_mm": "mm", "age_days": "days"}
_NAMES = {
    "gross_g": "gross",
    "bag_g": "bag",
    "net_g": "net",
    "wing_mm": "wing",
    "age_days": "age",
    "age": "age code",
    "hatch_date": "hatched",
    "brood_size": "brood size",
}
#: Codes and days name themselves.
_BARE = ("ring", "tag", "date", "box", "time")


def in_words(texts: Mapping[str, str]) -> str:
    """Write values with their names and units.

    Examples
    --------
    >>> in_words({"wing_mm": "138", "net_g": "351"}), in_words({"ring": "SV03012"}), in_words({"box": ""})
    ('wing 138 mm, net 351 g', 'SV03012', 'no box')
    """
    parts = []
    for field, text in texts.items():
        name, unit = _NAMES.get(field, field.replace("_", " ")), _UNITS.get(field, "")
        if not text:
            parts.append(f"no {name}")
        elif field in _BARE:
            parts.append(clipped(text))
        else:
            # a text that is no number may have a unit of its own
            known = unit and math.isfinite(number_of(text))
            parts.append(f"{name} {clipped(text)}{f' {unit}' if known else ''}")
    return ", ".join(parts)


def _with_chance(way: Meant) -> str:
    sure = percent(way.p)
    return f"{in_words(way.texts)}{f', {sure}' if sure else ''}"


def said_of(blamed: Sequence[Blamed]) -> str:
    """Say what was typed and what is suggested, for the description of a picture."""
    said = []
    for one in blamed[:FEW]:
        ways = " or ".join(
            f"{in_words(way.texts)}{f' ({percent(way.p)})' if way.p else ''}" for way in one.meant
        )
        said.append(f"As typed: {in_words(one.typed)}{f'; suggested: {ways}' if ways else ''}.")
    if len(blamed) > FEW:
        said.append(f"{len(blamed) - FEW:,} more rows are blamed with it.")
    return " ".join(said)


def who(handled: Handled | None, blamed: Sequence[Blamed]) -> str:
    """Name the bird that a question is about, or count the birds."""
    if len(blamed) > 1:
        return f"these {len(blamed)} birds"
    one = blamed[0]
    ring = "" if handled is None or one.row < 0 else str(handled.texts["ring"][one.row])
    return clipped(ring) or f"row {one.label.rpartition('!')[2]}"


def _there(at: At) -> At:
    return at


def draw_blamed(
    sketch: Sketch,
    one: Blamed,
    tip: str,
    start: At | None,
    ends: Sequence[At | None],
    *,
    worded: bool,
    beside: Callable[[At], At] = _there,
) -> None:
    """Draw one row as typed, and joined to it by a dashed line where each suggestion would put it.

    Parameters
    ----------
    start : (float, float) or None
        Place as typed; None where it has none.
    ends : sequence of (float, float) or None
        Place by each of ``one.meant``; None where a suggestion moves nothing.
    worded : bool
        Whether the values are written beside the marks.
    beside : callable
        Where to write what stands at a place.
    """
    moved = [(way, end) for way, end in zip(one.meant, ends, strict=True) if end is not None]
    written = 0
    for way, end in moved:
        if start is not None:
            sketch.move(start, end)
        sketch.meant(end, one.label, f"{tip}; {in_words(way.texts)}")
        if worded:
            up = start is not None and sketch.height(end) > sketch.height(start)
            lead = "→" if way is one.meant[0] else "or"
            # a runner-up may stand close to the suggestion
            line = 1 + written
            written += 1
            sketch.word(f"{lead} {_with_chance(way)}", beside(end), (_ABOVE if up else _BELOW) * line)
    if start is None:
        return
    sketch.typed(start, one.label, f"{tip}; {in_words(one.typed)}")
    if worded:
        down = bool(moved) and sketch.height(moved[0][1]) > sketch.height(start)
        far = "" if sketch.holds(start) else " (beyond the axis)"
        if far:
            # at the edge, words stand inside
            down = sketch.height(start) > sketch.middle
        ink = TONES[sketch.severity].mark
        unmoved = [way for way, end in zip(one.meant, ends, strict=True) if end is None]
        more = "".join(f" → {_with_chance(way)}" for way in unmoved)
        sketch.word(
            f"typed: {in_words(one.typed)}{far}{more}", beside(start), _BELOW if down else _ABOVE, ink=ink
        )

"""What is written on the life lines of a box: ends of tags, what was probably meant, remarks."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Any

import altair as alt

from audit.charts.palette import INK, PAPER, QUIET, TONES

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from audit.charts.layers import Axis
    from audit.charts.meeting_links import Link
    from audit.charts.meetings import Meeting
    from audit.findings import Severity

    Row = dict[str, Any]

__all__ = [
    "ABOVE",
    "LABEL_SIZE",
    "SHORTEST",
    "UNDER",
    "WORD_SIZE",
    "jump_words",
    "remark_words",
    "shortened",
    "suggestion_words",
    "tag_words",
    "text_layers",
]

LABEL_SIZE, WORD_SIZE = 11, 10
_HALO = 3
ABOVE, UNDER = -11, 15
#: Signs of a tag shown: as few as tell the tags of the box apart.
SHORTEST, _LONGEST = 4, 8
#: Signs of a remark shown.
_REMARK = 32
#: Signs shown before the one that differs, where two codes end alike.
_BEFORE = 2
#: Where on a jump its word stands if another one crosses it; else in the middle.
_CROSSED = 0.3
#: Jumps between the same two visits of which each has its own word.
_BUNDLE = 3


def jump_words(jumps: Sequence[Link], spots: Mapping[str, tuple[float, float]]) -> list[Row]:
    """Write the severity of each jump on it; of many side by side on one, with their number."""
    bundles: dict[tuple[int, int, Severity], list[tuple[float, float, float, float]]] = defaultdict(list)
    for link in jumps:
        (x, y), (x2, y2) = spots[link.earlier.label], spots[link.later.label]
        if link.severity:
            bundles[round(x), round(x2), link.severity].append((x, y, x2, y2))
    made = []
    for (_, _, severity), ends in bundles.items():
        tone = TONES[severity]
        many = len(ends) > _BUNDLE
        for x, y, x2, y2 in [min(ends, key=lambda one: one[1] + one[3])] if many else ends:
            crossed = any((y - v) * (y2 - v2) < 0 for _, v, _, v2 in ends)
            at = _CROSSED if crossed else 1 / 2
            text = f"{len(ends)} × {tone.word}" if many else tone.word
            made.append({"x": x + (x2 - x) * at, "y": y + (y2 - y) * at, "text": text, "ink": tone.mark})
    return made


def tag_words(met: Iterable[Meeting], spots: Mapping[str, tuple[float, float]]) -> list[Row]:
    """Write the end of each tag above its point, and what was probably meant."""
    met = [meeting for meeting in met if meeting.shown]
    ends = shortened([meeting.shown for meeting in met])
    made = []
    for meeting in met:
        x, y = spots[meeting.label]
        meant = meeting.told.suggested.get("tag", "") if meeting.told else ""
        text = _from_to(meeting.shown, meant, len(ends[meeting.shown])) if meant else ends[meeting.shown]
        made.append({"x": x, "y": y, "text": text, "ink": INK if meant else QUIET})
    return made


def shortened(codes: Iterable[str]) -> dict[str, str]:
    """Show only the end of each code: as few signs as tell them apart, but four at least and eight at most.

    Examples
    --------
    >>> shortened(["999104190066809", "999104190066805"])["999104190066809"]
    '6809'
    >>> shortened(["999104190166809", "999104190266809"])["999104190166809"]
    '166809'
    """
    distinct = set(codes)
    for length in range(SHORTEST, _LONGEST + 1):
        if len({code[-length:] for code in distinct}) == len(distinct):
            break
    return {code: code[-length:] for code in distinct}


def _from_to(typed: str, meant: str, length: int) -> str:
    """Show what was typed and what was meant, by the signs in which they differ."""
    if typed[-length:] != meant[-length:]:
        return f"{typed[-length:]} → {meant[-length:]}"
    same = next((i for i, (a, b) in enumerate(zip(typed, meant, strict=False)) if a != b), 0)
    start = same - _BEFORE if same > SHORTEST else 0
    lead = "…" if start else ""
    cut = slice(start, same + _BEFORE)
    return f"{lead}{typed[cut]}…{typed[-SHORTEST:]} → {lead}{meant[cut]}…{meant[-SHORTEST:]}"


def suggestion_words(met: Iterable[Meeting], spots: Mapping[str, tuple[float, float]]) -> list[Row]:
    """Write what was probably meant, but for tags."""
    made = []
    for meeting in met:
        if meeting.told:
            meant = [f"{name} {text}" for name, text in meeting.told.suggested.items() if name != "tag"]
            if meant:
                x, y = spots[meeting.label]
                made.append({"x": x, "y": y, "text": f"→ {', '.join(meant)}", "ink": INK})
    return made


def remark_words(links: Iterable[Link], spots: Mapping[str, tuple[float, float]]) -> list[Row]:
    """Show what was remarked where ring and tag part and no finding says why."""
    made = {}
    for link in links:
        meeting = link.later
        if link.kind in ("parted", "jump") and meeting.told is None and meeting.remark:
            x, y = spots[meeting.label]
            text = meeting.remark if len(meeting.remark) <= _REMARK else f"{meeting.remark[: _REMARK - 1]}…"
            made[meeting.label] = {"x": x, "y": y, "text": f"“{text}”", "ink": QUIET}
    return list(made.values())


def text_layers(
    texts: Sequence[Row], x: Axis, y: Axis, dy: int, size: int, weight: str = "normal"
) -> list[alt.Chart]:
    """Write texts, each on a halo of paper so that no line runs through it."""
    if not texts:
        return []
    base = alt.Chart(alt.InlineData(values=list(texts)))
    way: Row = {"dy": dy, "fontSize": size, "fontWeight": weight, "aria": False}
    return [
        base.mark_text(**way, stroke=PAPER, strokeWidth=_HALO, strokeJoin="round", color=PAPER).encode(
            x.x(), y.y(), text="text:N"
        ),
        base.mark_text(**way).encode(x.x(), y.y(), text="text:N", color=alt.Color("ink:N", scale=None)),
    ]

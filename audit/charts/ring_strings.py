"""What became of every ring? Each string as a strip of cells; tags likewise."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import altair as alt

from audit.charts.layers import dressed
from audit.charts.palette import FATES, GRID, QUIET, TONES

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

__all__ = ["MOST_LINES", "Drawing", "Piece", "Strip", "Words", "chart"]

#: What is drawn, for those who only pass it on.
Drawing = alt.LayerChart

#: Lines of cells that are drawn; how many more there are is said.
MOST_LINES = 60
#: Cells in a line, and the width and height of a cell in pixels.
_ACROSS, _WIDE, _HIGH = 50, 15, 18
#: Empty room between two strings, in lines.
_BETWEEN = 0.5
_TENS = 10
#: Fates that leave a ring where it was: lines of nothing else say little.
_UNTOUCHED = ("in hand", "before this season")

_Cell = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Piece:
    """One ring or tag: a cell. Its fate is a word of the palette; `torn` frames it."""

    code: str
    fate: str
    date: str = ""
    box: str = ""
    remark: str = ""
    torn: bool = False


@dataclass(frozen=True, slots=True)
class Strip:
    """The rings of one string, or the tags of one batch, in order; the name stands behind the first code."""

    name: str
    pieces: Sequence[Piece]


@dataclass(frozen=True, slots=True)
class Words:
    """What a chart calls its things: title, one strip, several, one piece, what is framed."""

    title: str
    one: str
    many: str
    piece: str
    torn: str = "the tables contradict each other"


def chart(strips: Sequence[Strip], words: Words, *, most_lines: int = MOST_LINES) -> alt.LayerChart | None:
    """Draw each string as a strip of cells, one cell per ring, the most used strings first.

    Fate is told by colour and by a sign in the cell.

    Returns
    -------
    altair.LayerChart or None
        None where there is nothing to draw.
    """
    order = sorted(range(len(strips)), key=lambda i: (-_used(strips[i]), i))
    cells, labels, height, left_out = _laid_out([strips[i] for i in order], most_lines)
    if not cells:
        return None
    counts = Counter(piece.fate for strip in strips for piece in strip.pieces)
    total = sum(counts.values())
    told = ", ".join(f"{counts[word]:,} {word}" for word in FATES if counts[word])
    number = f"{len(strips):,} {words.one if len(strips) == 1 else words.many}"
    said = [f"{total:,} {words.piece}{'' if total == 1 else 's'} in {number}: {told}"]
    torn = [cell for cell in cells if cell["torn"]]
    if torn:
        said.append(f"framed: {words.torn}")
    if left_out:
        said.append(
            f"{left_out:,} more lines of up to {_ACROSS} {words.piece}s are not drawn: "
            f"the least used {words.many}, and lines of which nothing was used"
        )
    layers = [_rects(cells, words.piece, labels, height), _signs(cells, labels, height)]
    if torn:
        layers.append(_frames(torn, labels, height))
    description = f"{words.title} {said[0]}."
    return dressed(layers, words.title, said, description, _ACROSS * _WIDE, round(height * _HIGH))


def _used(strip: Strip) -> int:
    return sum(piece.fate not in _UNTOUCHED for piece in strip.pieces)


def _laid_out(strips: Sequence[Strip], most_lines: int) -> tuple[list[_Cell], dict[float, str], float, int]:
    """Give each cell its place: cells, name of each line by its middle, height, lines left out."""
    placed: list[_Cell] = []
    labels: dict[float, str] = {}
    top, drawn, left_out = 0.0, 0, 0
    for strip in strips:
        lines = [strip.pieces[at : at + _ACROSS] for at in range(0, len(strip.pieces), _ACROSS)]
        shown = list(_worth_drawing(lines))[: max(most_lines - drawn, 0)]
        left_out += len(lines) - len(shown)
        for number, line in enumerate(shown):
            placed += [_cell(piece, x, top) for x, piece in enumerate(line)]
            name = f" {strip.name}" if strip.name and not number else ""
            labels[top + 1 / 2] = f"{line[0].code}{name}"
            top += 1
        drawn += len(shown)
        top += _BETWEEN if shown else 0
    return placed, labels, max(top - _BETWEEN, 0), left_out


def _cell(piece: Piece, x: int, top: float) -> _Cell:
    return {
        "code": piece.code,
        "fate": piece.fate,
        "date": piece.date,
        "box": piece.box,
        "remark": piece.remark,
        "torn": piece.torn,
        "x": x,
        "x2": x + 1,
        "y": top,
        "y2": top + 1,
    }


def _worth_drawing(lines: Sequence[Sequence[Piece]]) -> Iterator[Sequence[Piece]]:
    """Short strips whole; of a long one the lines in which something happened."""
    for line in lines:
        if len(lines) <= 2 or any(piece.fate not in _UNTOUCHED for piece in line):  # noqa: PLR2004 - short
            yield line


def _across() -> alt.X:
    ticks = [*range(0, _ACROSS, _TENS), _ACROSS]
    axis = alt.Axis(values=ticks, orient="top", grid=False, domain=False, format="d", tickColor=GRID)
    return alt.X("x:Q", title=None, scale=alt.Scale(domain=[0, _ACROSS], nice=False), axis=axis)


def _down(height: float, labels: dict[float, str]) -> alt.Y:
    names = json.dumps({f"{middle:g}": text for middle, text in labels.items()})
    axis = alt.Axis(
        values=list(labels),
        labelExpr=f"({names})[datum.value]",
        labelLimit=220,
        grid=False,
        ticks=False,
        domain=False,
    )
    scale = alt.Scale(domain=[0, height], nice=False, zero=False, reverse=True)
    return alt.Y("y:Q", title=None, scale=scale, axis=axis)


def _rects(cells: list[_Cell], piece: str, labels: dict[float, str], height: float) -> alt.Chart:
    tips = {"code": piece, "fate": "fate", "date": "date", "box": "box", "remark": "remark"}
    layer: alt.Chart = (
        alt.Chart(alt.InlineData(values=cells))
        .mark_rect(stroke=GRID, strokeWidth=1, aria=False)
        .encode(
            _across(),
            _down(height, labels),
            x2="x2:Q",
            y2="y2:Q",
            color=alt.Color("fate:N", title=None, scale=_colours(cells), legend=_legend()),
            tooltip=[alt.Tooltip(f"{key}:N", title=title) for key, title in tips.items()],
        )
    )
    return layer


def _colours(cells: list[_Cell]) -> alt.Scale:
    present = {cell["fate"] for cell in cells}
    words = [word for word in FATES if word in present]
    return alt.Scale(domain=words, range=[FATES[word].fill for word in words])


def _legend() -> alt.Legend:
    """Name the fates with the signs that stand in their cells."""
    names = json.dumps({word: f"{tone.sign}  {word}" if tone.sign else word for word, tone in FATES.items()})
    return alt.Legend(
        orient="bottom",
        direction="horizontal",
        columns=0,
        symbolType="square",
        symbolStrokeColor=QUIET,
        symbolStrokeWidth=1,
        labelExpr=f"({names})[datum.label]",
        labelLimit=0,
    )


def _signs(cells: list[_Cell], labels: dict[float, str], height: float) -> alt.Chart:
    signs = [
        {"x": cell["x"] + 1 / 2, "y": cell["y"] + 1 / 2, "sign": tone.sign, "ink": tone.ink}
        for cell in cells
        if (tone := FATES[cell["fate"]]).sign
    ]
    layer: alt.Chart = (
        alt.Chart(alt.InlineData(values=signs))
        .mark_text(fontSize=11, fontWeight="bold", aria=False, tooltip=None)
        .encode(
            _across(),
            _down(height, labels),
            text="sign:N",
            color=alt.Color("ink:N", scale=None),
        )
    )
    return layer


def _frames(cells: list[_Cell], labels: dict[float, str], height: float) -> alt.Chart:
    layer: alt.Chart = (
        alt.Chart(alt.InlineData(values=cells))
        .mark_rect(filled=False, stroke=TONES["error"].mark, strokeWidth=2, aria=False)
        .encode(_across(), _down(height, labels), x2="x2:Q", y2="y2:Q")
    )
    return layer

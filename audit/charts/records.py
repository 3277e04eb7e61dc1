"""Points that are records: a layer in which they can be picked, and a ring around the one that is lit up."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import altair as alt

from audit.charts.layers import dressed
from audit.charts.palette import INK, PAPER, QUIET, ROLES, TONES
from audit.charts.picture import BY_KEYBOARD, Picture
from audit.charts.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.charts.layers import Axis
    from audit.findings import Severity

__all__ = ["CHOSEN", "PICKED", "Sketch", "chosen_param", "lit_layer", "picked_param", "pictured", "unchecked"]

#: Name of the selection of records, and of the parameter that holds the label of the one lit up.
PICKED, CHOSEN = "picked", "chosen"

_RING, _RING_WIDTH = 420, 2.5
_WORD, _HALO = 11, 3
_ASIDE = 12
#: Share of the width from which words stand at the left of their place.
_RIGHT = 0.66
_MEANT, _TYPED = "as suggested", "as typed"
_SUSPECT_SIZE = 140

Spot = dict[str, Any]


@contextmanager
def unchecked() -> Iterator[None]:
    """Make charts without a check of each part against the schema, which takes most of the time."""
    with alt.utils.schemapi.debug_mode(arg=False):
        yield


@dataclass
class Sketch:
    """What is drawn for one finding, before it becomes a chart: points, lines, words.

    Attributes
    ----------
    x, y : Axis
    severity : {'error', 'suspect', 'note'}
        Of the finding.
    behind : list of altair.Chart
        Layers below the records: bands, counts of other birds.
    data : dict of str to list
        What these layers draw, by name.
    """

    x: Axis
    y: Axis
    severity: Severity
    behind: list[alt.Chart] = field(default_factory=list)
    data: dict[str, list[Spot]] = field(default_factory=dict)
    points: list[Spot] = field(default_factory=list)
    lines: list[Spot] = field(default_factory=list)
    moves: list[Spot] = field(default_factory=list)
    words: list[Spot] = field(default_factory=list)

    def point(self, role: str, at: tuple[float, float], label: str, tip: str) -> None:
        """Draw a record that the finding does not blame."""
        self._put(ROLES[role].word, at, label, tip)

    def typed(self, at: tuple[float, float], label: str, tip: str) -> None:
        """Draw a blamed record where its typed values put it."""
        self._put(self.typed_word, at, label, tip)

    def meant(self, at: tuple[float, float], label: str, tip: str) -> None:
        """Draw a blamed record where a suggestion would put it."""
        self._put(_MEANT, at, label, tip)

    @property
    def typed_word(self) -> str:
        """What the legend says of the blamed record as typed."""
        return f"{TONES[self.severity].word}, {_TYPED}"

    def _put(self, role: str, at: tuple[float, float], label: str, tip: str) -> None:
        self.points.append({"x": _short(at[0]), "y": _short(at[1]), "role": role, "label": label, "tip": tip})

    def line(self, stops: Sequence[tuple[float, float]], name: str) -> None:
        """Join places by a line."""
        if len(stops) > 1:
            self.lines += [
                {"x": _short(x), "y": _short(y), "of": name, "nr": nr} for nr, (x, y) in enumerate(stops)
            ]

    def move(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        """Join a record as typed to where a suggestion would put it."""
        self.moves.append(dict(zip(("x", "y", "x2", "y2"), map(_short, (*start, *end)), strict=True)))

    def word(self, text: str, at: tuple[float, float], dy: int = 0, *, ink: str = INK) -> None:
        """Write beside a place, towards the middle of the picture."""
        left, right = self.x.room
        side = -1 if at[0] > left + (right - left) * _RIGHT else 1
        self.words.append(
            {
                "x": _short(at[0]),
                "y": _short(at[1]),
                "text": text,
                "ink": ink,
                "dx": side * _ASIDE,
                "dy": dy,
                "align": "left" if side > 0 else "right",
            }
        )

    def named(self, layer: alt.Chart, name: str, rows: list[Spot]) -> alt.Chart:
        """Let a layer draw rows by name: altair copies a chart often, with all that is written in it."""
        self.data[name] = rows
        layer.data = alt.NamedData(name)
        return layer

    def holds(self, at: tuple[float, float]) -> bool:
        """Whether a place lies inside both axes."""
        return self.x.holds(at[0]) and self.y.holds(at[1])

    def height(self, at: tuple[float, float]) -> float:
        """How high up in the picture a place is; an axis may run downwards."""
        low, high = self.y.room
        return at[1] if high > low else -at[1]

    @property
    def middle(self) -> float:
        """Height of the middle of the picture."""
        return self.height((0.0, (self.y.room[0] + self.y.room[1]) / 2))

    def looks(self) -> list[tuple[str, str, str, str, int]]:
        """Word, outline, fill, shape and size of each role that is drawn, in the order of the legend."""
        tone = TONES[self.severity]
        every = [
            (self.typed_word, tone.mark, tone.mark, tone.shape, _SUSPECT_SIZE),
            (_MEANT, tone.mark, PAPER, tone.shape, _SUSPECT_SIZE),
            *((role.word, role.mark, role.fill, role.shape, role.size) for role in ROLES.values()),
        ]
        present = {point["role"] for point in self.points}
        return [look for look in every if look[0] in present]


def _short(value: float) -> float:
    return round(float(value), 2)


def pictured(
    sketch: Sketch,
    question: str,
    below: Sequence[str],
    description: str,
    size: tuple[int, int],
    *,
    lit: str = "",
) -> Picture:
    """Make the chart of a sketch under its question.

    Parameters
    ----------
    below : sequence of str
        Lines below the question: what is shown, what is left out.
    description : str
        What is shown in words, with the numbers.
    size : (int, int)
        Width and height in pixels.
    lit : str
        Label of the record that is lit up to begin with.
    """
    beyond = sum(not sketch.holds((point["x"], point["y"])) for point in sketch.points)
    if beyond:
        far = f"{counted(beyond, 'point')} beyond the axes, at the edge"
        below, description = [*below, far], f"{description} {far[0].upper()}{far[1:]}."
    said = f"{question} {description} {BY_KEYBOARD}"
    layers = [
        *sketch.behind,
        *_line_layers(sketch),
        lit_layer(alt.NamedData("records"), sketch.x, sketch.y),
        _records_layer(sketch),
        *_word_layers(sketch),
    ]
    layers[0] = layers[0].add_params(chosen_param(lit))
    drawn = dressed(layers, question, list(below), said, *size)
    # named, since altair copies a chart often, and all that is written in it
    named = {"records": sketch.points, "lines": sketch.lines, "moves": sketch.moves, "words": sketch.words}
    drawn.datasets = {name: rows for name, rows in (named | sketch.data).items() if rows}
    labels = frozenset(str(point["label"]) for point in sketch.points)
    return Picture(drawn, labels, question, said)


def chosen_param(lit: str = "") -> alt.Parameter:
    """Make the parameter that holds the label of the record that is lit up."""
    return alt.param(name=CHOSEN, value=lit)


def picked_param() -> alt.Parameter:
    """Make the selection of one record by its label."""
    return alt.selection_point(name=PICKED, fields=["label"], empty=False, toggle="false")


def lit_layer(data: alt.NamedData | alt.InlineData, x: Axis, y: Axis) -> alt.Chart:
    """Draw a ring around the record whose label `CHOSEN` holds; below the records, not to catch the mouse.

    Parameters
    ----------
    data : altair data
        With ``x``, ``y`` and ``label``.
    """
    layer: alt.Chart = (
        alt.Chart(data)
        .mark_point(shape="circle", filled=False, size=_RING, stroke=INK, strokeWidth=_RING_WIDTH, aria=False)
        .encode(x.x(), y.y())
        .transform_filter(f"datum.label === {CHOSEN}")
    )
    return layer


def _records_layer(sketch: Sketch) -> alt.Chart:
    looks = sketch.looks()
    words = [look[0] for look in looks]
    legend = alt.Legend(
        orient="top", direction="horizontal", columns=3, symbolStrokeWidth=1.5, labelLimit=240
    )

    def coded(channel: type, place: int) -> Any:  # noqa: ANN401 - a channel of any kind
        scale = alt.Scale(type="ordinal", domain=words, range=[look[place] for look in looks])
        return channel("role:N", title=None, scale=scale, legend=legend)

    layer: alt.Chart = (
        alt.Chart(alt.NamedData("records"), name="records")
        .mark_point(opacity=1, strokeWidth=1.5, aria=False, cursor="pointer")
        .encode(
            sketch.x.x(),
            sketch.y.y(),
            stroke=coded(alt.Stroke, 1),
            fill=coded(alt.Fill, 2),
            shape=coded(alt.Shape, 3),
            size=coded(alt.Size, 4),
            tooltip=[alt.Tooltip("role:N", title="shown"), alt.Tooltip("tip:N", title="row")],
        )
        .add_params(picked_param())
    )
    return layer


def _line_layers(sketch: Sketch) -> list[alt.Chart]:
    made = []
    x, y = sketch.x, sketch.y
    if sketch.lines:
        layer = (
            alt.Chart(alt.NamedData("lines"))
            .mark_line(strokeWidth=1.2, color=QUIET, aria=False)
            .encode(x.x(), y.y(), detail=alt.Detail("of:N"), order=alt.Order("nr:Q"))
        )
        made.append(layer)
    if sketch.moves:
        layer = (
            alt.Chart(alt.NamedData("moves"))
            .mark_rule(strokeWidth=1.8, strokeDash=[5, 4], color=TONES[sketch.severity].mark, aria=False)
            .encode(x.x(), y.y(), x2=alt.X2("x2:Q"), y2=alt.Y2("y2:Q"))
        )
        made.append(layer)
    return made


def _word_layers(sketch: Sketch) -> list[alt.Chart]:
    """Write words, each on a halo of paper so that no line runs through it."""
    if not sketch.words:
        return []
    base = alt.Chart(alt.NamedData("words")).encode(sketch.x.x(), sketch.y.y(), text=alt.Text("text:N"))
    way: Spot = {
        "fontSize": _WORD,
        "aria": False,
        "baseline": "middle",
        **{name: alt.expr(f"datum.{name}") for name in ("dx", "dy", "align")},
    }
    return [
        base.mark_text(**way, stroke=PAPER, strokeWidth=_HALO, strokeJoin="round", color=PAPER),
        base.mark_text(**way).encode(color=alt.Color("ink:N", scale=None)),
    ]

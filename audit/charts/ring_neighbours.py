"""Does a ring stand in the order of its string? A picture of one finding: the birds ringed around it."""

from __future__ import annotations

import json
from collections import defaultdict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import altair as alt
import numpy as np

from audit.charts.handled import short_day
from audit.charts.layers import Axis
from audit.charts.palette import GRID, LINE, QUIET
from audit.charts.records import Sketch, pictured
from audit.charts.ring_numbers import RingNumbers, beside, stretches
from audit.charts.values import FEW, draw_blamed, said_of, who
from audit.charts.wording import clipped, counted

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from audit.charts.folded import Fold
    from audit.charts.handled import Handled
    from audit.charts.picture import Picture
    from audit.charts.suspected import Blamed
    from audit.findings import Finding

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["RingStore", "picture"]

_SIZE = (600, 340)
#: Birds shown around the finding, and at least around each bird that it is about.
_AROUND, _LEAST = 40, 6
_MOST_CENTRES, _MOST_BLAMED, _MOST_STRETCHES = 4, 40, 6
#: Rings farther apart than this stand in stretches of their own; a string's end so near is drawn.
_APART, _NEAR = 25.0, 12.0
#: How far labels keep apart, as a share of the height; room left where birds are left out, in birds.
_CLOSE, _JUMP = 0.05, 3.0
_BESIDE, _FREE = 3, 0.09


@dataclass(frozen=True, slots=True)
class RingStore:
    """What the stock says of rings.

    Attributes
    ----------
    strings : tuple of (str, str)
        First and last ring of each string, prefix included.
    losses : mapping of str to str
        Row label of each loss -> its ring.
    """

    strings: tuple[tuple[str, str], ...] = ()
    losses: Mapping[str, str] = field(default_factory=dict)


def picture(handled: Handled, store: RingStore, finding: Finding, blamed: Sequence[Blamed]) -> Picture | None:
    """Draw the birds ringed before and after the blamed ones against the numbers of their rings.

    Returns
    -------
    Picture or None
        None where no blamed row has a ring, as typed or as suggested. Numbers that lie far apart stand in
        stretches of their own; distances within a stretch are true.
    """
    about = blamed[:_MOST_BLAMED]
    typed = [_typed_ring(handled, store, one) for one in about]
    meant = [[way.texts.get("ring", "") for way in one.meant] for one in about]
    named = dict.fromkeys(ring for ring in (*typed, *(ring for ways in meant for ring in ways)) if ring)
    if not named:
        return None
    shown = _window(handled, about, list(named))
    rings = [str(ring) for ring in handled.texts["ring"][shown]]
    numbers = RingNumbers.of([*rings, *named])
    wanted = [numbers.number(ring) for ring in named]
    others = [numbers.number(ring) for ring in rings]
    ends = _ends(store, numbers, np.array([*wanted, *others]))
    up = stretches([*wanted, *ends], others, _APART, _MOST_STRETCHES)
    if up is None:
        return None
    across, jumps = _across(handled, shown)
    aside = max(across.values(), default=0.0) + _JUMP
    losses = {label: ring for label, ring in store.losses.items() if up.stretch(numbers.number(ring)) >= 0}
    placed = [one.row in across for one in about]
    outside = bool(losses) or not all(placed)
    sketch = Sketch(
        Axis(
            "birds in the order of ringing",
            (0.0, aside + 1),
            _birds(handled, across, aside if outside else None),
        ),
        Axis("number of the ring", _room(up), _labels(up, numbers)),
        finding.severity,
    )
    _behind(sketch, up, jumps, {ends[number]: number for number in ends})
    left_out = _company(handled, sketch, (about, named), (across, up, jumps), numbers)
    for label, ring in losses.items():
        if label not in {one.label for one in about}:
            at = (aside, up.place(numbers.number(ring)))
            sketch.point("loss", at, label, f"{label.replace('!', ', row ')}; {ring} is among the losses")
    for one, ring, ways in zip(about, typed, meant, strict=True):
        x = across.get(one.row, aside)
        start = (x, up.place(numbers.number(ring))) if ring else None
        stops = [(x, up.place(numbers.number(way))) if way else None for way in ways]
        tip = handled.tip(one.row) if one.row >= 0 else one.label.replace("!", ", row ")
        draw_blamed(sketch, one, tip, start, stops, worded=len(about) <= FEW)
    return _told(handled, store, sketch, (about, blamed), (shown, left_out), (numbers, named))


def _room(up: Fold) -> tuple[float, float]:
    """Leave room for words above and below."""
    free = max(up.gap / 2, (up.end - up.starts[0]) * _FREE)
    return up.starts[0] - free, up.end + free


def _typed_ring(handled: Handled, store: RingStore, one: Blamed) -> str:
    if one.row >= 0:
        return str(handled.texts["ring"][one.row]) or one.typed.get("ring", "").strip()
    return store.losses.get(one.label, "")


def _window(handled: Handled, about: Sequence[Blamed], named: Sequence[str]) -> Ints:
    """Choose the birds to show: those ringed around the blamed ones, and around others with these rings."""
    rings, again = handled.texts["ring"], handled.again
    ringed = handled.order[~again[handled.order] & (rings[handled.order] != "")]
    blamed = [one.row for one in about if one.row >= 0 and handled.rank[one.row] >= 0]
    wanted = set(named)
    same = [row for row in ringed.tolist() if rings[row] in wanted]
    if not blamed and not same:
        wanted = {near for ring in named for near in beside(ring, _BESIDE)}
        same = [row for row in ringed.tolist() if rings[row] in wanted][-1:]
    centres = list(dict.fromkeys([*blamed, *same]))[: max(_MOST_CENTRES, 1)]
    half = max(_AROUND // (2 * max(len(centres), 1)), _LEAST)
    ranks = handled.rank[ringed]
    near: set[int] = set(blamed)
    for row in centres:
        at = int(np.searchsorted(ranks, handled.rank[row]))
        near.update(ringed[max(at - half, 0) : at + half + 1].tolist())
    return np.array(sorted(near, key=lambda row: int(handled.rank[row])), dtype=np.int64)


def _across(handled: Handled, shown: Ints) -> tuple[dict[int, float], list[float]]:
    """Place birds side by side, with room where others are left out; return these places, too."""
    ringed = ~handled.again & (handled.texts["ring"] != "") & (handled.rank >= 0)
    before = np.cumsum(ringed[handled.order])
    at, last = 0.0, -1
    places: dict[int, float] = {}
    jumps = []
    for row in shown.tolist():
        number = int(before[handled.rank[row]])
        if last >= 0 and number - last > 1:
            jumps.append(at + _JUMP / 2)
            at += _JUMP
        else:
            at += 1
        places[row] = at
        last = number
    return places, jumps


def _ends(store: RingStore, numbers: RingNumbers, shown: Floats) -> dict[float, str]:
    """First and last rings of strings that lie near to what is shown."""
    known = shown[np.isfinite(shown)]
    found = {}
    for ends in store.strings:
        for ring, word in zip(ends, ("begins", "ends"), strict=True):
            number = numbers.number(ring)
            if np.isfinite(number) and np.abs(known - number).min() <= _NEAR:
                found[number] = f"{clipped(ring)}: string {word}"
    return found


def _behind(sketch: Sketch, up: Fold, jumps: Sequence[float], ends: Mapping[str, float]) -> None:
    """Draw where something is left out, and where strings begin and end."""
    sketch.data["breaks"] = [{"y": round(at, 2)} for at in up.breaks()]
    sketch.data["jumps"] = [{"x": round(at, 2)} for at in jumps]
    sketch.data["strings"] = [{"y": round(up.place(number), 2)} for number in ends.values()]
    across = (("breaks", GRID, [2, 3], 2.0), ("strings", LINE, [1, 0], 1.2))
    for name, ink, dash, width in across:
        if sketch.data[name]:
            rule = alt.Chart(alt.NamedData(name)).mark_rule(
                color=ink, strokeDash=dash, strokeWidth=width, aria=False
            )
            sketch.behind.append(rule.encode(sketch.y.y()))
    if jumps:
        rule = alt.Chart(alt.NamedData("jumps")).mark_rule(
            color=GRID, strokeDash=[2, 3], strokeWidth=2, aria=False
        )
        sketch.behind.append(rule.encode(sketch.x.x()))
    for word, number in ends.items():
        down = word.endswith("begins")
        sketch.word(word, (0.0, up.place(number)), 8 if down else -8, ink=QUIET)


def _company(
    handled: Handled,
    sketch: Sketch,
    about: tuple[Sequence[Blamed], Mapping[str, Any]],
    axes: tuple[Mapping[int, float], Fold, Sequence[float]],
    numbers: RingNumbers,
) -> int:
    """Draw the other birds; return how many have rings that are not shown."""
    (blamed, named), (across, up, jumps) = about, axes
    rows = {one.row for one in blamed if one.row >= 0}
    brood = {int(mate) for row in rows for mate in handled.visit.of_row(row)}
    hands = {str(handled.texts["ringer"][row]) for row in rows} - {""}
    left_out = 0
    lines: dict[tuple[int, int], list[tuple[float, float]]] = defaultdict(list)
    for row, at in across.items():
        if row in rows:
            continue
        ring = str(handled.texts["ring"][row])
        number = numbers.number(ring)
        if up.stretch(number) < 0:
            left_out += 1
            continue
        own = str(handled.texts["ringer"][row]) in hands
        role = "twin" if ring in named else "mate" if row in brood else "same_hand" if own else "other"
        sketch.point(role, (at, up.place(number)), handled.labels[row], handled.tip(row))
        if own or row in brood:
            piece = up.stretch(number), sum(jump < at for jump in jumps)
            lines[piece].append((at, up.place(number)))
    for piece, stops in lines.items():
        sketch.line(stops, "-".join(map(str, piece)))
    return left_out


def _birds(handled: Handled, across: Mapping[int, float], aside: float | None) -> dict[str, Any]:
    """Name the day below its first bird, and what stands beside the birds."""
    names: dict[str, str] = {}
    values: list[float] = []
    last = None
    for row, at in across.items():
        day = int(handled.day[row])
        if day != last and (not values or at - values[-1] >= _JUMP + 1):
            values.append(at)
            names[_key(at)] = short_day(float(day))
            last = day
    if aside is not None:
        values.append(aside)
        names[_key(aside)] = "losses"
    return {"values": values, "labelExpr": f"({json.dumps(names)})[datum.value]", "grid": False}


def _labels(up: Fold, numbers: RingNumbers) -> dict[str, Any]:
    """Name rings along the axis, both ends of each stretch first."""
    close = (up.end - up.starts[0] + up.gap) * _CLOSE
    wished: list[float] = [*up.lows, *up.highs]
    for low, high in zip(up.lows, up.highs, strict=True):
        step = max(round(close * 2), 1)
        wished += np.arange(low + step, high, step).tolist()
    values: list[float] = []
    names: dict[str, str] = {}
    for number in wished:
        at = round(up.place(number), 2)
        if all(abs(at - other) >= close for other in values):
            values.append(at)
            names[_key(at)] = clipped(numbers.ring(number), 14)
    return {
        "values": values,
        "labelExpr": f"({json.dumps(names)})[datum.value]",
        "labelLimit": 120,
        "grid": False,
    }


def _key(value: float) -> str:
    """Write a number as JavaScript does."""
    return str(int(value)) if value == int(value) else repr(value)


def _told(
    handled: Handled,
    store: RingStore,
    sketch: Sketch,
    about: tuple[Sequence[Blamed], Sequence[Blamed]],
    shown: tuple[Ints, int],
    ringed: tuple[RingNumbers, Mapping[str, Any]],
) -> Picture:
    (drawn, blamed), (rows, left_out), (numbers, named) = about, shown, ringed
    days = handled.day[rows]
    when = ""
    if len(days):
        first, last = short_day(float(days.min())), short_day(float(days.max()))
        when = first if first == last else f"{first} to {last}"
    below = [
        f"{when + ': ' if when else ''}{counted(len(rows), 'bird')} in the order of ringing",
        "dotted: birds or numbers between are left out; lines: where strings begin and end",
    ]
    told = [
        f"{counted(left_out, 'bird')} with rings far from these not drawn" if left_out else "",
        f"{counted(len(blamed) - len(drawn), 'more blamed row')} not drawn"
        if len(drawn) < len(blamed)
        else "",
    ]
    below += ["; ".join(text for text in told if text)] if any(told) else []
    others = [str(handled.texts["ring"][row]) for row in rows.tolist()]
    near = [ring for ring in others if ring not in named]
    span = [numbers.ring(number) for number in sorted(numbers.number(ring) for ring in near)]
    around = f"The birds around it have {span[0]} to {span[-1]}." if span else ""
    twice = [ring for ring in named if others.count(ring) > 1]
    again = f" More than one row has {', '.join(twice[:FEW])}." if twice else ""
    ring = _typed_ring(handled, store, drawn[0])
    name = f"ring {clipped(ring)}" if len(drawn) == 1 and ring else f"the ring of {who(handled, drawn)}"
    question = f"Does {name} stand in the order of its string?"
    description = f"{'; '.join(below)}. {said_of(blamed)} {around}{again}"
    return pictured(sketch, question, below, description, _SIZE, lit=drawn[0].label)

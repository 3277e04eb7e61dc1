"""Does a bag, a sum or a time fit the day? A picture of one finding: the birds of that day in order."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from audit.charts.handled import short_day
from audit.charts.layers import Axis
from audit.charts.records import Sketch, pictured
from audit.charts.sizes import fitting_room
from audit.charts.suspected import number_of
from audit.charts.values import FEW, draw_blamed, said_of, who
from audit.charts.wording import clipped, counted, spread
from audit.models.time_of_day import clock, minutes_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.charts.handled import Handled
    from audit.charts.picture import Picture
    from audit.charts.suspected import Blamed, Meant
    from audit.findings import Finding

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Measure", "picture"]

Measure = Literal["bag", "mass", "time"]

_SIZE = (640, 300)
_MOST_BIRDS = 120
_LABELS = 14
_SAME = 0.05
#: The axis spans at least this share of its middle, so that a gram does not look like much.
_LEAST_SPAN = 0.2
_TITLES = {"bag": "bag, g", "mass": "net mass, g", "time": "time of day"}
_QUESTIONS = {
    "bag": "Do gross, bag and net of {who} agree with the bag of that day?",
    "mass": "Does the mass of {who} go with those of that day?",
    "time": "Does the time of {who} stand in the order of its day?",
}
_CLOCK = "format(floor(datum.value / 60), '02') + ':' + format(datum.value % 60, '02')"


def picture(handled: Handled, finding: Finding, blamed: Sequence[Blamed], measure: Measure) -> Picture | None:
    """Draw the birds of one day in order, the blamed ones marked, what was suggested beside them.

    Returns
    -------
    Picture or None
        None where no blamed row has a date, or nobody has the measure. Grams, or minutes since midnight.
    """
    dated = [one for one in blamed if one.row >= 0 and handled.rank[one.row] >= 0]
    if not dated:
        return None
    first = dated[0].row
    shown, left_out = _window(handled.of_day.of_row(first), first)
    drawn = [one for one in dated if one.row in shown]
    place = {row: float(number) for number, row in enumerate(shown.tolist(), 1)}
    values, sums = _values(handled, measure)
    company = np.setdiff1d(shown, [one.row for one in drawn])
    starts = {one.row: _typed(one, values, sums) for one in drawn}
    ends = {one.row: [_meant(handled, one.row, way, measure) for way in one.meant] for one in drawn}
    every = np.concatenate([values[company], sums[company]])
    aims = [value for ways in ends.values() for value in ways]
    y_room = fitting_room(every, aims, list(starts.values()), margin=0.1, least=_LEAST_SPAN)
    if y_room is None:
        return None
    half = 1 / 2
    x = Axis("birds of the day in order", (half, len(shown) + half), _boxes(handled, shown))
    settings: dict[str, Any] = {"labelExpr": _CLOCK} if measure == "time" else {}
    sketch = Sketch(x, Axis(_TITLES[measure], y_room, settings), finding.severity)
    _company(handled, sketch, company, place, (values, sums, handled.texts["ringer"][first]))
    placeless = 0
    for one in drawn:
        at = place[one.row]
        start = (at, starts[one.row]) if np.isfinite(starts[one.row]) else None
        stops = [(at, end) if np.isfinite(end) and (at, end) != start else None for end in ends[one.row]]
        placeless += start is None
        _standing(handled, sketch, one, at, (values, sums))
        draw_blamed(sketch, one, handled.tip(one.row), start, stops, worded=len(drawn) <= FEW)
    question = _QUESTIONS[measure].format(who=who(handled, drawn))
    day = short_day(float(handled.day[first]))
    below = [f"{day}: {counted(len(shown), 'bird')} in the order typed" + _hand(handled, first)]
    if measure == "bag":
        below.append("dash: gross less net, drawn where it is not the bag as typed")
    told = [
        f"{counted(placeless, 'row')} as typed without a place here" if placeless else "",
        f"{counted(left_out, 'more bird')} of the day not drawn" if left_out else "",
        f"{counted(len(blamed) - len(drawn), 'more blamed row')} not drawn"
        if len(drawn) < len(blamed)
        else "",
    ]
    below += ["; ".join(text for text in told if text)] if any(told) else []
    description = f"{'; '.join(below)}. {said_of(blamed)} {_numbers(values[company], measure)}"
    return pictured(sketch, question, below, description, _SIZE, lit=drawn[0].label)


def _window(rows: Ints, first: int) -> tuple[Ints, int]:
    """Cut a long day to the birds around one of them."""
    at = int(np.searchsorted(rows, first))
    start = max(min(at - _MOST_BIRDS // 2, len(rows) - _MOST_BIRDS), 0)
    shown = rows[start : start + _MOST_BIRDS]
    return shown, len(rows) - len(shown)


def _values(handled: Handled, measure: Measure) -> tuple[Floats, Floats]:
    """Return what is drawn of each row, and beside it gross less net where that is another number."""
    numbers = handled.numbers
    nothing = np.full(len(handled.labels), np.nan)
    if measure == "time":
        return handled.minute, nothing
    if measure == "mass":
        rest = numbers["gross_g"] - numbers["bag_g"]
        return np.where(np.isfinite(numbers["net_g"]), numbers["net_g"], rest), nothing
    rest = numbers["gross_g"] - numbers["net_g"]
    same = np.abs(rest - numbers["bag_g"]) <= _SAME
    return numbers["bag_g"], np.where(same, np.nan, rest)


def _typed(one: Blamed, values: Floats, sums: Floats) -> float:
    """Choose what is in doubt: the bag itself where it is blamed, or what gross and net leave for it."""
    value, rest = float(values[one.row]), float(sums[one.row])
    about_sum = bool({"gross_g", "net_g"} & set(one.typed)) and "bag_g" not in one.typed
    return rest if about_sum and np.isfinite(rest) else value


def _meant(handled: Handled, row: int, way: Meant, measure: Measure) -> float:
    if measure == "time":
        return minutes_of(way.texts.get("time", ""))
    gross, bag, net = (
        way.number(name, float(handled.numbers[name][row])) for name in ("gross_g", "bag_g", "net_g")
    )
    if measure == "mass":
        return net if np.isfinite(net) else gross - bag
    if "bag_g" in way.texts:
        return number_of(way.texts["bag_g"])
    return gross - net if {"gross_g", "net_g"} & set(way.texts) else float("nan")


def _company(
    handled: Handled,
    sketch: Sketch,
    company: Ints,
    place: dict[int, float],
    about: tuple[Floats, Floats, object],
) -> None:
    values, sums, hand = about
    blamed = place.keys() - set(company.tolist())
    brood = {int(mate) for row in blamed for mate in handled.visit.of_row(row)}
    line = []
    for row in company.tolist():
        own = handled.texts["ringer"][row] == hand
        role = "mate" if row in brood else "same_hand" if own and hand else "other"
        tip = handled.tip(row)
        if np.isfinite(values[row]):
            at = (place[row], float(values[row]))
            sketch.point(role, at, handled.labels[row], tip)
            if own:
                line.append(at)
        if np.isfinite(sums[row]):
            sketch.point("sum", (place[row], float(sums[row])), handled.labels[row], tip)
    sketch.line(line, "day")


def _standing(handled: Handled, sketch: Sketch, one: Blamed, at: float, about: tuple[Floats, Floats]) -> None:
    """Draw the other one of bag and sum of a blamed row, too: it is what the blamed one must meet."""
    values, sums = about
    value, rest = float(values[one.row]), float(sums[one.row])
    if np.isfinite(rest) and np.isfinite(value):
        tip = handled.tip(one.row)
        if _typed(one, values, sums) == rest:
            sketch.point("bag", (at, value), one.label, f"{tip}; bag as typed")
        else:
            sketch.point("sum", (at, rest), one.label, f"{tip}; gross less net")


def _hand(handled: Handled, first: int) -> str:
    hand = clipped(str(handled.texts["ringer"][first]))
    return f"; line: ringer {hand}" if hand else ""


def _boxes(handled: Handled, shown: Ints) -> dict[str, Any]:
    """Name each box below its first bird, as far as there is room."""
    boxes = handled.texts["box"][shown]
    new = [0, *(np.flatnonzero(boxes[1:] != boxes[:-1]) + 1).tolist()]
    apart = max(len(shown) / _LABELS, 1)
    chosen: list[int] = []
    for at in new:
        if not chosen or at - chosen[-1] >= apart:
            chosen.append(at)
    names = {str(at + 1): clipped(str(boxes[at]) or "no box", 12) for at in chosen}
    return {
        "values": [at + 1 for at in chosen],
        "labelExpr": f"({json.dumps(names)})[datum.value]",
        "labelAngle": -40,
        "grid": False,
    }


def _numbers(values: Floats, measure: Measure) -> str:
    known = values[np.isfinite(values)]
    if not len(known):
        return ""
    if measure == "time":
        return f"The others of the day: {clock(known.min())} to {clock(known.max())}."
    return f"The others of the day: {spread(values, 'g')}, middle {np.median(known):g} g."

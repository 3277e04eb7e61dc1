"""Do day and box of a row go with the visits? A picture of one finding: boxes against days."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from audit.charts.handled import NO_DAY, days_of, iso, short_day
from audit.charts.layers import Axis
from audit.charts.records import Sketch, pictured
from audit.charts.suspected import day_of, known_day
from audit.charts.values import FEW, draw_blamed, said_of, who
from audit.charts.wording import clipped, counted
from audit.models.box_label import natural_order

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from audit.charts.handled import Handled
    from audit.charts.picture import Picture
    from audit.charts.suspected import Blamed
    from audit.findings import Finding
    from audit.season import Season

__all__ = ["Visit", "picture", "visits_in"]

_WIDTH, _STEP = 600, 44
_MOST_DAYS, _MOST_BOXES, _MOST_BLAMED = 9, 9, 40
#: Birds of one visit side by side and in rows; more are counted.
_ABREAST, _MOST_BIRDS = 5, 15
#: How far birds of a visit stand apart, in days and in boxes.
_APART, _BELOW = 0.15, 0.24
_RIGHT = 0.6
#: Rows of the sheet around the blamed one whose boxes are shown.
_PAGE = 15

Place = tuple[int, str]


@dataclass(frozen=True, slots=True)
class Visit:
    """One row of the table of visits: day since 1970, box as read."""

    label: str
    day: int
    box: str


def visits_in(season: Season) -> dict[str, Visit]:
    """Take the visits with a date, by row label."""
    if not season.has("visits", "date", "box"):
        return {}
    frame = season.frame("visits")
    columns = (frame.index.tolist(), days_of(frame, "date").tolist(), frame["box"].fillna("").tolist())
    rows = zip(*columns, strict=True)
    return {str(label): Visit(str(label), day, str(box)) for label, day, box in rows if day != NO_DAY}


@dataclass
class _Grid:
    """Days across, boxes down, and who was handled where."""

    days: list[int]
    boxes: list[str]
    birds: dict[Place, list[int]] = field(default_factory=dict)

    def at(self, place: Place, nr: int = 0, many: int = 1) -> tuple[float, float] | None:
        """Place one of many birds inside the cell of its visit; None where the cell is not shown."""
        day, box = place
        if day not in self.days or box not in self.boxes:
            return None
        across = nr % _ABREAST - (min(many, _ABREAST) - 1) / 2
        down = nr // _ABREAST - ((many - 1) // _ABREAST) / 2
        return self.days.index(day) + 1 + across * _APART, self.boxes.index(box) + 1 + down * _BELOW

    def edge(self, at: tuple[float, float]) -> tuple[float, float]:
        """Where words about a place stand: beside the birds of its visit, not on them."""
        day = round(at[0])
        side = -1 if day - 1 > (len(self.days) - 1) * _RIGHT else 1
        return day + side * _APART * 2, at[1]


def picture(
    handled: Handled, visits: Mapping[str, Visit], finding: Finding, blamed: Sequence[Blamed]
) -> Picture | None:
    """Draw which birds were handled in which box on which day, the blamed rows as typed and as suggested.

    Parameters
    ----------
    visits : mapping of str to Visit
        The table of visits by row label.

    Returns
    -------
    Picture or None
        None where no blamed row has a day and a box. Days stand side by side whatever lies between them.
    """
    about = blamed[:_MOST_BLAMED]
    starts = {one.label: _typed(handled, visits, one) for one in about}
    ends = {one.label: [_meant(starts[one.label], way.texts) for way in one.meant] for one in about}
    every = [place for place in (*starts.values(), *(end for ways in ends.values() for end in ways)) if place]
    if not every:
        return None
    grid, left_out = _grid(handled, visits, about, every)
    rows = {one.row for one in about}
    half = 1 / 2
    sketch = Sketch(
        Axis("days with a visit", (half, len(grid.days) + half), _day_names(grid.days)),
        Axis("box", (len(grid.boxes) + half, half), _box_names(grid.boxes)),
        finding.severity,
    )
    _company(handled, visits, sketch, grid, rows | {one.label for one in about})
    placeless = 0
    for one in about:
        start = _spot(grid, starts[one.label], one.row)
        stops = [
            None if end in (None, starts[one.label]) else _spot(grid, end, -1) for end in ends[one.label]
        ]
        placeless += start is None
        tip = handled.tip(one.row) if one.row >= 0 else one.label.replace("!", ", row ")
        draw_blamed(sketch, one, tip, start, stops, worded=len(about) <= FEW, beside=grid.edge)
    if not sketch.points:
        return None
    return _told(handled, sketch, (about, blamed), grid, (left_out, placeless))


def _typed(handled: Handled, visits: Mapping[str, Visit], one: Blamed) -> Place | None:
    if one.row >= 0:
        day, box = int(handled.day[one.row]), str(handled.texts["box"][one.row])
        return (day, box) if day != NO_DAY else None
    visit = visits.get(one.label)
    return (visit.day, visit.box) if visit and visit.day != NO_DAY else None


def _meant(start: Place | None, texts: Mapping[str, str]) -> Place | None:
    day = day_of(texts["date"]) if "date" in texts else known_day(start[0]) if start else float("nan")
    box = texts.get("box", start[1] if start else "")
    return (int(day), box) if np.isfinite(day) else None


def _grid(
    handled: Handled, visits: Mapping[str, Visit], about: Sequence[Blamed], every: Sequence[Place]
) -> tuple[_Grid, int]:
    """Choose days and boxes: those that it is about, other days of these boxes, other boxes of the page."""
    own_days, own_boxes = {day for day, _ in every}, {box for _, box in every}
    seen: Counter[int] = Counter()
    of_box = handled.of_box
    for code in {int(of_box.codes[row]) for box in own_boxes for row in _first(handled, box)}:
        seen.update(handled.day[of_box.rows(code)].tolist())
    seen.update(visit.day for visit in visits.values() if visit.box in own_boxes)
    seen.pop(NO_DAY, None)
    near = min(own_days)
    extra = sorted(seen.keys() - own_days, key=lambda day: (abs(day - near), day))
    days = sorted([*own_days, *extra[: max(_MOST_DAYS - len(own_days), 0)]])
    page: Counter[str] = Counter()
    for one in about:
        if one.row >= 0:
            around = slice(max(one.row - _PAGE, 0), one.row + _PAGE + 1)
            here = zip(handled.texts["box"][around].tolist(), handled.day[around].tolist(), strict=True)
            page.update(box for box, day in here if day in own_days)
    others = [box for box, _ in page.most_common() if box not in own_boxes]
    room = max(_MOST_BOXES - len(own_boxes), 0)
    boxes = sorted([*own_boxes, *others[:room]], key=lambda box: (not box, natural_order(box), box))
    grid = _Grid(days, boxes)
    left_out: set[str] = set(others[room:])
    for day in days:
        first = np.flatnonzero(handled.day == day)
        for row in first.tolist():
            box = str(handled.texts["box"][row])
            if box in boxes:
                grid.birds.setdefault((day, box), []).append(row)
            elif day in own_days:
                left_out.add(box)
    return grid, len(left_out)


def _first(handled: Handled, box: str) -> Iterable[int]:
    found = np.flatnonzero(handled.texts["box"] == box)[:1]
    return [int(row) for row in found]


def _spot(grid: _Grid, place: Place | None, row: int) -> tuple[float, float] | None:
    """Place a row in its visit; one that is not there yet stands behind those that are."""
    if place is None:
        return None
    birds = grid.birds.get(place, [])
    if row in birds:
        return grid.at(place, min(birds.index(row), _MOST_BIRDS - 1), min(len(birds), _MOST_BIRDS))
    return grid.at(place, min(len(birds), _MOST_BIRDS - 1), min(len(birds), _MOST_BIRDS - 1) or 1)


def _company(
    handled: Handled, visits: Mapping[str, Visit], sketch: Sketch, grid: _Grid, blamed: set[int | str]
) -> None:
    birds = {handled.bird.codes[row] for row in blamed if isinstance(row, int) and row >= 0} - {-1}
    for place, rows in grid.birds.items():
        for nr, row in enumerate(rows[:_MOST_BIRDS]):
            at = grid.at(place, nr, min(len(rows), _MOST_BIRDS))
            if at is not None and row not in blamed:
                role = "again" if handled.bird.codes[row] in birds else "handled"
                sketch.point(role, at, handled.labels[row], handled.tip(row))
    for visit in visits.values():
        at = grid.at((visit.day, visit.box))
        if at is not None and (visit.day, visit.box) not in grid.birds and visit.label not in blamed:
            sketch.point(
                "visit",
                at,
                visit.label,
                f"{visit.label.replace('!', ', row ')}; {visit.box}, {iso(visit.day)}",
            )


def _box_of(handled: Handled, grid: _Grid, one: Blamed) -> str:
    if one.row >= 0:
        return str(handled.texts["box"][one.row])
    return grid.boxes[0] if len(grid.boxes) == 1 else ""


def _day_names(days: Sequence[int]) -> dict[str, Any]:
    years = {iso(day)[:4] for day in days}
    names = {}
    for nr, day in enumerate(days, 1):
        lines = [short_day(float(day))]
        if len(years) > 1:
            lines.append(iso(day)[:4])
        elif nr > 1:
            lines.append(f"{counted(day - days[nr - 2], 'day')} later")
        names[str(nr)] = lines
    return {
        "values": list(range(1, len(days) + 1)),
        "labelExpr": f"({json.dumps(names)})[datum.value]",
        "labelAngle": 0,
        "grid": False,
    }


def _box_names(boxes: Sequence[str]) -> dict[str, Any]:
    names = {str(nr): clipped(box, 14) or "no box" for nr, box in enumerate(boxes, 1)}
    return {
        "values": list(range(1, len(boxes) + 1)),
        "labelExpr": f"({json.dumps(names)})[datum.value]",
        "labelLimit": 120,
    }


def _told(
    handled: Handled,
    sketch: Sketch,
    about: tuple[Sequence[Blamed], Sequence[Blamed]],
    grid: _Grid,
    missing: tuple[int, int],
) -> Picture:
    (drawn, blamed), (left_out, placeless) = about, missing
    shown = sum(min(len(rows), _MOST_BIRDS) for rows in grid.birds.values())
    more = sum(len(rows) for rows in grid.birds.values()) - shown
    size = f"{counted(len(grid.boxes), 'box', 'boxes')} on {counted(len(grid.days), 'day')}"
    below = [f"{size}; one point for each bird handled"]
    told = [
        f"{counted(left_out, 'more box', 'more boxes')} of these days not drawn" if left_out else "",
        f"{counted(more, 'more bird')} of large visits not drawn" if more else "",
        f"{counted(placeless, 'row')} as typed without a day" if placeless else "",
        f"{counted(len(blamed) - len(drawn), 'more blamed row')} not drawn"
        if len(drawn) < len(blamed)
        else "",
    ]
    below += ["; ".join(text for text in told if text)] if any(told) else []
    seen = [
        f"{clipped(box) or 'no box'} on {iso(day)}: {counted(len(rows), 'bird')}"
        for (day, box), rows in sorted(grid.birds.items())
    ]
    description = f"{'; '.join(below)}. {said_of(blamed)} Handled: {'; '.join(seen) or 'none'}."
    asked = {field for one in drawn for field in one.typed}
    name = who(handled, drawn)
    box = clipped(_box_of(handled, grid, drawn[0]))
    question = f"Do day and box of {name} go with the visits?"
    if not asked & {"date", "box"}:
        question = f"Which birds of box {box} were handled, and when?" if box else "Which birds were handled?"
    return pictured(
        sketch, question, below, description, (_WIDTH, _STEP * (len(grid.boxes) + 1)), lit=drawn[0].label
    )

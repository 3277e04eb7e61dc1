"""Does a bird's size go with its kind, its brood and its own life? A picture of one finding."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import altair as alt
import numpy as np

from audit.charts.handled import short_day
from audit.charts.layers import Axis, band_layers, centre_layer, counts_layer
from audit.charts.marked import counted_pairs
from audit.charts.mass_wing import expected_band
from audit.charts.palette import BAND, LINE
from audit.charts.records import Sketch, pictured
from audit.charts.sizes import TITLES, Plane, fitting_room, sizes_of, spot
from audit.charts.values import FEW, draw_blamed, said_of, who
from audit.charts.wording import clipped, counted, spread
from audit.models.growth import mean
from audit.models.growth import spread as spread_at

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from audit.charts.handled import Handled
    from audit.charts.picture import Picture
    from audit.charts.sizes import Sizes
    from audit.charts.suspected import Blamed
    from audit.declarations.species import Species
    from audit.findings import Finding

    Ints = NDArray[np.int64]

__all__ = ["picture", "plane_for"]

_SIZE = (600, 320)
_CELLS = (32, 20)
#: So many other birds are drawn as points, more as counts.
_MOST_OTHERS = 60
_MOST_MATES, _MOST_OWN, _MOST_BLAMED = 40, 12, 60
_STEPS, _TICKS = 60, 7
_ABOVE = -13
_UNIT = {"wing": "mm", "mass": "g"}
_QUESTIONS = {
    ("wing", "mass"): "Do wing and mass of {who} go together?",
    ("age", "wing"): "Does the wing of {who} go with the age?",
    ("age", "mass"): "Does the mass of {who} go with the age?",
    ("day", "wing"): "Did the wing of {who} grow as wings do?",
    ("day", "mass"): "Did the mass of {who} change as masses do?",
}


@dataclass(frozen=True, slots=True)
class _Company:
    """Rows that are shown beside the blamed ones."""

    mates: Ints
    own: Ints
    others: Ints
    mates_left_out: int


def plane_for(handled: Handled, finding: Finding, blamed: Sequence[Blamed]) -> Plane | None:
    """Choose what stands across and up; None where no blamed row has a place in any plane."""
    fields = {field for one in blamed for field in one.typed}
    wings = bool(fields & {"wing_mm"}) or not fields & {"net_g", "gross_g", "bag_g"}
    first, second = ("wing", "mass") if wings else ("mass", "wing")
    planes = [Plane("wing", "mass"), Plane("age", first), Plane("age", second)]
    if fields & {"age_days", "hatch_date"}:
        planes = [Plane("age", "wing"), Plane("age", "mass")]
    history = [Plane("day", first), Plane("day", second)]
    planes = [*history, *planes] if finding.rule.startswith("history.") else [*planes, *history]
    for plane in planes:
        placed = [one for one in blamed if _places(handled, one, plane)]
        alone = all(len(handled.bird.of_row(one.row)) == 1 for one in placed)
        if placed and not (plane.x == "day" and alone):
            return plane
    return None


def _places(handled: Handled, one: Blamed, plane: Plane) -> list[tuple[float, float]]:
    """Where a blamed row stands, as typed and as it may have been meant, as far as it has a place."""
    if one.row < 0:
        return []
    every = [spot(handled, one.row, plane, meant) for meant in (None, *one.meant)]
    return [at for at in every if np.isfinite(at).all()]


def picture(
    handled: Handled,
    species: Mapping[str, Species],
    finding: Finding,
    blamed: Sequence[Blamed],
    plane: Plane,
) -> Picture | None:
    """Draw blamed birds among their brood, their own other visits and the season's other birds.

    Parameters
    ----------
    species : mapping of str to Species
        Declared species by slug.
    plane : Plane
        As `plane_for` chose it.

    Returns
    -------
    Picture or None
        None where nothing has a place. Counts stand for other birds where they are many.
    """
    drawn = [one for one in blamed if one.row >= 0][:_MOST_BLAMED]
    if not drawn:
        return None
    first = drawn[0].row
    kind = species.get(handled.slug[first])
    company = _company(handled, drawn, plane)
    every = sizes_of(handled)
    across, up = every.along(plane.x), every.along(plane.y)
    typed = [spot(handled, one.row, plane) for one in drawn]
    meant = [spot(handled, one.row, plane, way) for one in drawn for way in one.meant]
    near = np.concatenate([company.mates, company.own])
    band = _band(kind, plane)
    rooms = []
    for place, values in enumerate((across, up)):
        crowd = values[company.others] if plane.x != "day" else np.array([])
        close = [*values[near].tolist(), *(at[place] for at in meant)]
        rooms.append(fitting_room(crowd, close, [at[place] for at in typed]))
    if rooms[0] is None or rooms[1] is None:
        return None
    sketch = Sketch(
        Axis(TITLES[plane.x], rooms[0], _days(rooms[0], across[near]) if plane.x == "day" else {}),
        Axis(TITLES[plane.y], rooms[1]),
        finding.severity,
    )
    counts, told = _others(handled, sketch, company, across, up)
    sketch.behind += _behind(kind, plane, band, sketch, counts)
    _lives(handled, sketch, company, drawn, plane)
    told += _blamed(handled, sketch, drawn, plane)
    name = who(handled, drawn)
    question = _QUESTIONS[plane.x, plane.y].format(who=name)
    below, description = _said(handled, kind, company, (plane, every), (drawn, blamed), told)
    return pictured(sketch, question, below, description, _SIZE, lit=drawn[0].label)


def _company(handled: Handled, drawn: Sequence[Blamed], plane: Plane) -> _Company:
    rows = np.array([one.row for one in drawn], dtype=np.int64)
    slug = handled.slug[rows[0]]
    own = np.unique(np.concatenate([handled.bird.of_row(int(row)) for row in rows]))
    own = np.setdiff1d(own, rows) if len(rows) <= FEW else np.array([], dtype=np.int64)
    mates = np.unique(np.concatenate([handled.visit.of_row(int(row)) for row in rows]))
    mates = mates[(handled.slug[mates] == slug) & (handled.of_box.codes[mates] >= 0)]
    if plane.x == "day":
        # how the brood went on is what a life is compared with
        rings = [handled.bird.of_row(int(row)) for row in mates]
        mates = np.unique(np.concatenate([mates, *rings]))
    mates = np.setdiff1d(mates, np.concatenate([rows, own]))
    others = np.setdiff1d(np.flatnonzero(handled.slug == slug), np.concatenate([rows, own, mates]))
    if plane.x == "day":
        others = others[:0]
    return _Company(mates[:_MOST_MATES], own[:_MOST_OWN], others, max(len(mates) - _MOST_MATES, 0))


def _birds(handled: Handled, rows: Ints) -> int:
    """Count birds, each once however often it was met; one without a ring is a bird of its own."""
    codes = handled.bird.codes[rows]
    return len(np.unique(codes[codes >= 0])) + int((codes < 0).sum())


def _band(kind: Species | None, plane: Plane) -> list[dict[str, float]]:
    if kind is None or plane.x == "day":
        return []
    if plane.x == "wing":
        return expected_band(kind)
    curve = kind.curves.get(f"{plane.y}_{'mm' if plane.y == 'wing' else 'g'}")
    if curve is None:
        return []
    days = np.linspace(curve.first_day, curve.last_day, _STEPS)
    rows = zip(days.tolist(), mean(curve, days).tolist(), spread_at(curve, days).tolist(), strict=True)
    return [
        {
            "x": round(day, 1),
            "y": round(centre, 1),
            **{f"low{many}": round(centre - many * sd, 1) for many in (1, 2)},
            **{f"high{many}": round(centre + many * sd, 1) for many in (1, 2)},
        }
        for day, centre, sd in rows
    ]


def _behind(
    kind: Species | None,
    plane: Plane,
    band: list[dict[str, float]],
    sketch: Sketch,
    counts: Sequence[alt.Chart],
) -> list[alt.Chart]:
    """Layers below the records: what is declared, and the season's other birds as counts."""
    made: list[alt.Chart] = []
    near = [row for row in band if sketch.x.holds(row["x"])]
    if near:
        made += [sketch.named(layer, "band", near) for layer in band_layers([], sketch.x, sketch.y)]
        made += counts
        # a line that leaves the picture would run along its edge
        inside = [{"x": row["x"], "y": row["y"]} for row in near if sketch.y.holds(row["y"])]
        made.append(sketch.named(centre_layer([], sketch.x, sketch.y), "expected", inside))
    else:
        made += counts
    adult = _grown(kind, plane)
    if adult:
        made.append(
            alt.Chart(alt.InlineData(values=[adult]))
            .mark_rect(fill=BAND, fillOpacity=0.25, stroke=LINE, strokeDash=[2, 3], aria=False)
            .encode(sketch.x.x(), sketch.y.y(), x2=alt.X2("x2:Q"), y2=alt.Y2("y2:Q"))
        )
    return made


def _grown(kind: Species | None, plane: Plane) -> dict[str, float]:
    if kind is None or plane != Plane("wing", "mass"):
        return {}
    wing, mass = kind.adult.get(("", "wing_mm")), kind.adult.get(("", "mass_g"))
    if wing is None or mass is None:
        return {}
    return {"x": wing.low, "x2": wing.high, "y": mass.low, "y2": mass.high}


def _others(
    handled: Handled, sketch: Sketch, company: _Company, across: NDArray[Any], up: NDArray[Any]
) -> tuple[list[alt.Chart], list[str]]:
    known = company.others[np.isfinite(across[company.others]) & np.isfinite(up[company.others])]
    if len(known) > _MOST_OTHERS:
        cells = counted_pairs(across[known], up[known], sketch.x.room, sketch.y.room, _CELLS)
        said = f"{counted(len(known), 'other bird')} of the season as counts"
        short = [{key: round(value, 2) for key, value in cell.items()} for cell in cells]
        layer = counts_layer([], sketch.x, sketch.y, opacity=0.75)
        return [sketch.named(layer, "counts", short)], [said]
    for row in known.tolist():
        sketch.point("other", (across[row], up[row]), handled.labels[row], handled.tip(row))
    return [], []


def _lives(
    handled: Handled, sketch: Sketch, company: _Company, drawn: Sequence[Blamed], plane: Plane
) -> None:
    """Draw the brood and the birds themselves at other visits, each life joined by a line."""
    at = {int(row): spot(handled, int(row), plane) for row in (*company.mates, *company.own)}
    at |= {one.row: spot(handled, one.row, plane) for one in drawn}
    seen = {row: place for row, place in at.items() if np.isfinite(place).all()}
    for role, rows in (("mate", company.mates), ("again", company.own)):
        for row in (int(one) for one in rows if int(one) in seen):
            sketch.point(role, seen[row], handled.labels[row], handled.tip(row))
    joined = [one.row for one in drawn] if len(drawn) <= FEW else []
    joined += company.mates.tolist() if plane.x == "day" else []
    lives = {int(handled.bird.codes[row]): row for row in joined if handled.bird.codes[row] >= 0}
    for bird, row in lives.items():
        stops = sorted((int(handled.rank[i]), seen[i]) for i in handled.bird.rows(bird).tolist() if i in seen)
        sketch.line([place for _, place in stops], handled.labels[row])
    if plane.x != "day" and len(drawn) == 1:
        for row in company.own.tolist():
            if row in seen:
                sketch.word(short_day(float(handled.day[row])), seen[row], _ABOVE)


def _blamed(handled: Handled, sketch: Sketch, drawn: Sequence[Blamed], plane: Plane) -> list[str]:
    """Draw the blamed rows as typed and as they may have been meant; say what has no place or lies beyond."""
    placeless = 0
    for one in drawn:
        start = _known(spot(handled, one.row, plane))
        ends = [_known(spot(handled, one.row, plane, way)) for way in one.meant]
        moved = [None if end == start else end for end in ends]
        placeless += start is None
        draw_blamed(sketch, one, handled.tip(one.row), start, moved, worded=len(drawn) <= FEW)
    return [f"{counted(placeless, 'row')} as typed without a place here"] if placeless else []


def _known(at: tuple[float, float]) -> tuple[float, float] | None:
    return at if np.isfinite(at).all() else None


def _days(room: tuple[float, float], days: NDArray[np.float64]) -> dict[str, Any]:
    """Name the days along an axis."""
    known = np.unique(days[np.isfinite(days) & (days >= room[0]) & (days <= room[1])])
    chosen = known[np.unique(np.linspace(0, len(known) - 1, min(len(known), _TICKS)).round().astype(int))]
    names = {str(int(day)): short_day(float(day)) for day in chosen}
    return {
        "values": [int(day) for day in chosen],
        "labelExpr": f"({json.dumps(names)})[datum.value]",
        "grid": False,
    }


def _said(
    handled: Handled,
    kind: Species | None,
    company: _Company,
    shown: tuple[Plane, Sizes],
    rows: tuple[Sequence[Blamed], Sequence[Blamed]],
    told: list[str],
) -> tuple[list[str], str]:
    """Word what stands below the question, and the description with the numbers."""
    (plane, every), (drawn, blamed) = shown, rows
    first = drawn[0].row
    where = ", ".join(
        text for text in (clipped(handled.texts["box"][first]), short_day(float(handled.day[first]))) if text
    )
    name = kind.english if kind else "species not known"
    counts = [
        f"{name}; {where}" if where else name,
        counted(_birds(handled, company.mates), "bird") + " of the same brood",
    ]
    if len(company.own):
        counts.append(counted(len(company.own), "other visit"))
    if plane.x != "day" and kind is not None:
        counts_line = "line and bands: expected of a nestling, one and two standard deviations"
        if _grown(kind, plane):
            counts_line += "; dotted: full-grown birds"
    else:
        counts_line = ""
    left = len(blamed) - len(drawn)
    if company.mates_left_out:
        told = [*told, f"{company.mates_left_out:,} more of the brood not drawn"]
    if left:
        told = [*told, f"{left:,} more blamed rows not drawn"]
    below = ["; ".join(counts), "; ".join(told), counts_line]
    said = [f"{who(handled, drawn)}, {'; '.join(counts)}.", said_of(blamed)]
    for title, some in (("The same brood", company.mates), ("At other visits", company.own)):
        parts = [
            f"{axis} {spread(every.along(axis)[some], _UNIT[axis])}"
            for axis in ("wing", "mass")
            if np.isfinite(every.along(axis)[some]).any()
        ]
        if parts:
            said.append(f"{title}: {', '.join(parts)}.")
    if told:
        said.append(f"{'; '.join(told)}.")
    return [line for line in below if line], " ".join(said)

"""Which rows a chart marks, and how many it can show."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from audit.charts.palette import TONES
from audit.findings import SEVERITIES
from audit.season import split_label

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd
    from numpy.typing import NDArray

    from audit.findings import Finding, Report
    from audit.season import Season

__all__ = [
    "MOST_MARKED",
    "MOST_POINTS",
    "Point",
    "Points",
    "counted_cells",
    "counted_pairs",
    "crowded",
    "points",
    "room",
]

#: Above this number of rows a chart shows counts instead of points.
MOST_POINTS = 1500
#: Cells of the grid in which points are counted, across and up.
_CELLS = (60, 36)
#: Marked points shown, the gravest first; a chart says how many it leaves out.
MOST_MARKED = 400

Point = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Points:
    """The rows of a chart.

    Attributes
    ----------
    plain, marked : list of dict
        ``x``, ``y`` and the texts of the tooltip; `marked` also ``severity`` (its word) and ``message``.
    left_out : int
        Marked rows that are not shown.
    """

    plain: list[Point]
    marked: list[Point]
    left_out: int


def points(
    season: Season,
    report: Report,
    x: pd.Series,
    y: pd.Series,
    fields: Sequence[str],
) -> Points:
    """Split handlings into plain ones and those with a finding in one of the fields.

    Parameters
    ----------
    x, y : pandas.Series
        Coordinates, index = row labels; rows that lack one are not shown.
    fields : sequence of str
        Columns that the chart is about.
    """
    known = x.notna().to_numpy() & y.notna().to_numpy()
    blamed = _gravest(report, frozenset(fields))
    typed = season.tables["handlings"].typed
    texts: Mapping[str, list[object]] = {
        name: typed[name].loc[x.index].tolist() for name in ("box", "date", "ring") if name in typed.columns
    }
    plain: list[Point] = []
    marked: list[tuple[int, Point]] = []
    abscissae, ordinates, labels = x.tolist(), y.tolist(), x.index.tolist()
    for i in np.flatnonzero(known).tolist():
        sheet, row = split_label(str(labels[i]))
        point: Point = {"x": float(abscissae[i]), "y": float(ordinates[i]), "row": f"{sheet}, row {row}"}
        point.update({name: _text(column[i]) for name, column in texts.items()})
        finding = blamed.get(str(labels[i]))
        if finding is None:
            plain.append(point)
        else:
            point |= {"severity": TONES[finding.severity].word, "message": finding.message}
            marked.append((SEVERITIES.index(finding.severity), point))
    marked.sort(key=lambda one: one[0])
    return Points(plain, [point for _, point in marked[:MOST_MARKED]], max(len(marked) - MOST_MARKED, 0))


def _text(value: object) -> str:
    return value if isinstance(value, str) else ""


def _gravest(report: Report, fields: frozenset[str]) -> dict[str, Finding]:
    gravest: dict[str, Finding] = {}
    # a note asks for no second look, so it stays a plain point
    for finding in report.above_notes:
        for suspect in finding.suspects:
            if suspect.cell.field not in fields:
                continue
            other = gravest.get(suspect.cell.label)
            if other is None or SEVERITIES.index(finding.severity) < SEVERITIES.index(other.severity):
                gravest[suspect.cell.label] = finding
    return gravest


def room(
    values: Sequence[float], more: Sequence[float] = (), margin: float = 0.04
) -> tuple[float, float] | None:
    """Range of an axis: all `values` and `more` with a margin; None when there are none."""
    every = np.concatenate([np.asarray(values, dtype=float), np.asarray(more, dtype=float)])
    if not every.size:
        return None
    low, high = float(every.min()), float(every.max())
    wide = (high - low or max(abs(high), 1.0)) * margin
    return low - wide, high + wide


def crowded(
    plain: Sequence[Point],
    x_room: tuple[float, float],
    y_room: tuple[float, float],
    most_points: int,
) -> tuple[str, Sequence[Point]]:
    """Name the layer of points that nothing is said about: each of them, or many as counts in a grid."""
    if len(plain) <= most_points:
        return "plain", plain
    return "counts", counted_cells(plain, x_room, y_room, _CELLS)


def counted_cells(
    plain: Sequence[Point], x_room: tuple[float, float], y_room: tuple[float, float], cells: tuple[int, int]
) -> list[Point]:
    """Count points in a grid of cells, as `counted_pairs` does."""
    x: NDArray[np.float64] = np.array([point["x"] for point in plain])
    y: NDArray[np.float64] = np.array([point["y"] for point in plain])
    return counted_pairs(x, y, x_room, y_room, cells)


def counted_pairs(
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    x_room: tuple[float, float],
    y_room: tuple[float, float],
    cells: tuple[int, int],
) -> list[Point]:
    """Count pairs of numbers in a grid of cells; those beyond it are left out.

    Returns
    -------
    list of dict
        ``x``, ``x2``, ``y``, ``y2`` and ``n`` of each cell that holds a point.
    """
    counts, x_edges, y_edges = np.histogram2d(x, y, bins=cells, range=(x_room, y_room))
    return [
        {
            "x": round(float(x_edges[i]), 3),
            "x2": round(float(x_edges[i + 1]), 3),
            "y": round(float(y_edges[j]), 3),
            "y2": round(float(y_edges[j + 1]), 3),
            "n": int(counts[i, j]),
        }
        for i, j in np.argwhere(counts > 0).tolist()
    ]

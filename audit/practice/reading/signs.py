"""Letters and digits as single lines: shapes of our own, drawn on a grid four wide and six high."""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    Point = tuple[float, float]
    Stroke = tuple[Point, ...]

__all__ = ["HIGH", "SIGNS", "WIDE", "resampled"]

#: Size of a sign on its grid; y grows downwards.
WIDE, HIGH = 4.0, 6.0
_STEP = 15


def resampled(stroke: Stroke, step: float) -> tuple[Point, ...]:
    """Set points along a stroke, no further apart than ``step``."""
    found = [stroke[0]]
    for (x, y), (u, v) in itertools.pairwise(stroke):
        parts = max(1, math.ceil(math.hypot(u - x, v - y) / step))
        found += [(x + (u - x) * part / parts, y + (v - y) * part / parts) for part in range(1, parts + 1)]
    return tuple(found)


def _arc(x: float, y: float, wide: float, high: float, start: float, end: float) -> Iterator[Point]:
    """Go along an ellipse by degrees, clockwise from the right when ``end`` is larger."""
    parts = max(2, math.ceil(abs(end - start) / _STEP))
    for part in range(parts + 1):
        turn = math.radians(start + (end - start) * part / parts)
        yield round(x + wide * math.cos(turn), 3), round(y + high * math.sin(turn), 3)


_SIX = ((*_arc(3.0, 4.2, 2.7, 4.0, 270, 180), *_arc(2, 4.2, 1.7, 1.8, 180, 540)),)
_TURNED_SIX = tuple(tuple((round(WIDE - x, 3), round(HIGH - y, 3)) for x, y in stroke) for stroke in _SIX)

#: Sign -> its strokes.
SIGNS: Mapping[str, tuple[Stroke, ...]] = {
    "0": (tuple(_arc(2, 3, 1.6, 3, -90, 270)),),
    "1": (((0.9, 1.3), (2.2, 0), (2.2, 6)),),
    "2": ((*_arc(2, 1.7, 1.7, 1.7, 190, 400), (0.2, 6), (3.9, 6)),),
    "3": ((*_arc(1.9, 1.45, 1.5, 1.45, 200, 450), *_arc(1.9, 4.4, 1.8, 1.6, 270, 520)),),
    "4": (((3, 6), (3, 0), (0.1, 4.2), (4, 4.2)),),
    "5": (((3.6, 0), (0.7, 0), (0.5, 2.8), *_arc(1.9, 4.1, 1.8, 1.9, 228, 510)),),
    "6": _SIX,
    "7": (((0.2, 0), (3.8, 0), (1.4, 6)),),
    "8": ((*_arc(2, 1.45, 1.4, 1.45, 90, 450), *_arc(2, 4.45, 1.7, 1.55, 270, 630)),),
    "9": _TURNED_SIX,
    "A": (((0, 6), (2, 0), (4, 6)), ((0.7, 4), (3.3, 4))),
    "B": (
        ((0.4, 6), (0.4, 0), (2, 0), *_arc(2, 1.45, 1.5, 1.45, -90, 90), (0.4, 2.9)),
        ((2, 2.9), *_arc(2, 4.45, 1.8, 1.55, -90, 90), (0.4, 6)),
    ),
    "C": (tuple(_arc(2.1, 3, 1.9, 3, -50, -310)),),
    "D": (((0.3, 6), (0.3, 0), (1.7, 0), *_arc(1.7, 3, 2.2, 3, -90, 90), (0.3, 6)),),
    "E": (((3.7, 0), (0.4, 0), (0.4, 6), (3.7, 6)), ((0.4, 2.9), (3, 2.9))),
    "F": (((3.7, 0), (0.4, 0), (0.4, 6)), ((0.4, 2.9), (3, 2.9))),
    "G": ((*_arc(2.1, 3, 1.9, 3, -50, -360), (2.4, 3)),),
    "H": (((0.4, 0), (0.4, 6)), ((3.6, 0), (3.6, 6)), ((0.4, 3), (3.6, 3))),
    "I": (((2, 0), (2, 6)), ((0.8, 0), (3.2, 0)), ((0.8, 6), (3.2, 6))),
    "J": (((3.2, 0), (3.2, 4.4), *_arc(1.8, 4.4, 1.4, 1.6, 0, 170)),),
    "K": (((0.4, 0), (0.4, 6)), ((3.8, 0), (0.4, 3.6)), ((1.6, 2.5), (4, 6))),
    "L": (((0.5, 0), (0.5, 6), (3.7, 6)),),
    "M": (((0, 6), (0.3, 0), (2, 4), (3.7, 0), (4, 6)),),
    "N": (((0.3, 6), (0.3, 0), (3.7, 6), (3.7, 0)),),
    "O": (tuple(_arc(2, 3, 2.4, 3, -90, 270)),),
    "P": (((0.4, 6), (0.4, 0), (2, 0), *_arc(2, 1.6, 1.7, 1.6, -90, 90), (0.4, 3.2)),),
    "Q": (tuple(_arc(2, 3, 2.4, 3, -90, 270)), ((2.6, 4.2), (4.4, 6.4))),
    "R": (
        ((0.4, 6), (0.4, 0), (2, 0), *_arc(2, 1.6, 1.7, 1.6, -90, 90), (0.4, 3.2)),
        ((2, 3.2), (4, 6)),
    ),
    "S": ((*_arc(2, 1.5, 1.6, 1.5, -30, -270), *_arc(2, 4.5, 1.7, 1.5, -90, 150)),),
    "T": (((0, 0), (4, 0)), ((2, 0), (2, 6))),
    "U": (((0.3, 0), (0.3, 4.2), *_arc(2, 4.2, 1.7, 1.8, 180, 0), (3.7, 0)),),
    "V": (((0, 0), (2, 6), (4, 0)),),
    "W": (((-0.2, 0), (1, 6), (2, 2), (3, 6), (4.2, 0)),),
    "X": (((0, 0), (4, 6)), ((4, 0), (0, 6))),
    "Y": (((0, 0), (2, 3), (4, 0)), ((2, 3), (2, 6))),
    "Z": (((0.2, 0), (3.8, 0), (0.2, 6), (3.8, 6)),),
    "-": (((0.8, 3), (3.2, 3)),),
}

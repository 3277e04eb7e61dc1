"""A metal or plastic ring in the hand or on the leg: stamped, worn, turned, half hidden, dirty."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from audit.charts.palette import BAND, GRID, INK, LINE, PAPER, PLAIN, QUIET
from audit.practice.reading.drawing import HEIGHT, WIDTH, area, line, speck, whole_drawing
from audit.practice.reading.signs import HIGH, SIGNS, WIDE, resampled

if TYPE_CHECKING:
    from collections.abc import Iterator

    import numpy as np

    from audit.practice.reading.reading_levels import ReadingLevel
    from audit.practice.reading.signs import Point

__all__ = ["Ring", "draw_ring", "ring_of", "worn_strokes"]

_SIZE = 8.0
#: Between the left ends of two signs, on the grid of signs.
_PITCH = 6.0
_BAND = 44.0
_STEP = 0.25
#: Half the angle that a number takes around the leg: its ends are still told.
_AROUND = 0.95
_TILT = 16.0
_FACE = 1.35
#: Signs that are signs upside down too: a ring of these alone has two readings, so it stands upright.
_TURNABLE = frozenset("0689HIMNOSWXZ-")


@dataclass(frozen=True, slots=True)
class Ring:
    """How one ring looks.

    Attributes
    ----------
    number : str
    metal : {"metal", "plastic"}
    turned, curved : bool
        Whether it stands upside down, and whether it is seen on the leg.
    worn : float
        Share of each stroke that is worn away.
    hidden : float
        Share of the height of the signs at ``toe`` that is hidden.
    toe : tuple of int
        Places of the first sign that a toe hides in part, and of the one after the last.
    dirt : int
        Specks.
    """

    number: str
    metal: Literal["metal", "plastic"]
    turned: bool = False
    curved: bool = False
    worn: float = 0.0
    hidden: float = 0.0
    toe: tuple[int, int] = (0, 0)
    dirt: int = 0

    @property
    def says(self) -> str:
        """What is drawn, without the number."""
        how = [
            f"A {self.metal} ring",
            "on the leg" if self.curved else "laid flat",
            *(["upside down"] if self.turned else []),
            *(["worn"] if self.worn else []),
            *(["dirty"] if self.dirt else []),
            *(["with a toe before a part of it"] if self.hidden else []),
        ]
        return f"{', '.join(how)}; {len(self.number)} signs to read."


def ring_of(
    number: str, metal: Literal["metal", "plastic"], level: ReadingLevel, rng: np.random.Generator
) -> Ring:
    """Decide how hard a ring is to read."""
    wide = max(1, len(number) // 3)
    start = int(rng.integers(0, len(number) - wide + 1))
    turned, curved = (float(rng.random()) for _ in range(2))
    return Ring(
        number=number,
        metal=metal,
        turned=turned < level.turned and not set(number) <= _TURNABLE,
        curved=curved < level.curved,
        worn=level.worn if metal == "metal" else level.worn / 2,
        hidden=level.hidden,
        toe=(start, start + wide) if level.hidden else (0, 0),
        dirt=level.dirt,
    )


def worn_strokes(sign: str, worn: float, rng: np.random.Generator) -> list[tuple[Point, ...]]:
    """Return the strokes of a sign with a piece worn away from each.

    Parameters
    ----------
    worn : float
        Share of each stroke, 0 to 1.
    """
    found: list[tuple[Point, ...]] = []
    for stroke in SIGNS[sign]:
        points = resampled(stroke, _STEP)
        gap = round(worn * len(points))
        if not gap:
            found.append(points)
            continue
        start = int(rng.integers(1, max(2, len(points) - gap)))
        found += [part for part in (points[:start], points[start + gap :]) if len(part) > 1]
    return found


def draw_ring(ring: Ring, rng: np.random.Generator) -> str:
    """Return the drawing as SVG; the same ring and generator give the same text."""
    half = (len(ring.number) * _PITCH - (_PITCH - WIDE)) * _SIZE / 2
    stamped = QUIET if ring.metal == "metal" else PAPER
    fill = GRID if ring.metal == "metal" else LINE
    width = (1.5 if ring.worn else 2.6) if ring.metal == "metal" else 5.0
    parts = list(_behind(ring, half, fill))
    for place, sign in enumerate(ring.number):
        left = place * _PITCH * _SIZE - half
        # a sign that a toe hides in part keeps its strokes, or nobody could tell it
        worn = 0.0 if ring.toe[0] <= place < ring.toe[1] else ring.worn
        for stroke in worn_strokes(sign, worn, rng):
            flat = [(left + x * _SIZE, (y - HIGH / 2) * _SIZE) for x, y in stroke]
            parts.append(line([_seen(ring, point, half) for point in flat], stamped, width))
    parts += _dirt(ring, half, rng)
    if ring.hidden:
        parts.append(_toe(ring, half))
    return whole_drawing(parts, ring.says)


def _seen(ring: Ring, point: Point, half: float) -> Point:
    """Where a point of the flat ring is seen, the middle of the ring being that of the drawing."""
    x, y = (-point[0], -point[1]) if ring.turned else point
    if ring.curved:
        radius = half / _AROUND
        turn = x / radius
        # seen from a little above, the middle hangs lower than the ends
        x, y = radius * math.sin(turn), y + _TILT * (math.cos(turn) - (1 + math.cos(_AROUND)) / 2)
    return WIDTH / 2 + x, HEIGHT / 2 + y


def _behind(ring: Ring, half: float, fill: str) -> Iterator[str]:
    """Draw the leg and the ring without its number."""
    if ring.curved:
        thick = half / _AROUND * 0.86
        left, right = WIDTH / 2 - thick, WIDTH / 2 + thick
        yield area([(left, 0), (right, 0), (right, HEIGHT), (left, HEIGHT)], BAND, PLAIN)
        reach = half / _AROUND * _FACE
    else:
        reach = half + _SIZE * 2
    ends = [reach * part / 12 for part in range(-12, 13)]
    above = [_seen(ring, (x, -_BAND), half) for x in ends]
    below = [_seen(ring, (x, _BAND), half) for x in reversed(ends)]
    yield area([*above, *below], fill, INK)


def _dirt(ring: Ring, half: float, rng: np.random.Generator) -> list[str]:
    found = []
    for _ in range(ring.dirt):
        x, y, size = (float(one) for one in rng.random(3))
        at = _seen(ring, ((2 * x - 1) * half, (2 * y - 1) * HIGH * _SIZE / 2), half)
        found.append(speck(at, 1.2 + 2.2 * size, PLAIN))
    return found


def _toe(ring: Ring, half: float) -> str:
    """Cover the lower part, as seen, of some signs."""
    first, after = ring.toe
    ends = sorted(
        _seen(ring, (place * _PITCH * _SIZE - half - _SIZE, 0), half)[0] for place in (first, after)
    )
    wide = ends[1] - ends[0]
    outline = []
    for part in range(13):
        x = ends[0] + wide * part / 12
        back = (x - WIDTH / 2) / (half / _AROUND)
        turn = math.asin(max(-1.0, min(1.0, back))) if ring.curved else 0.0
        hang = _TILT * (math.cos(turn) - (1 + math.cos(_AROUND)) / 2) if ring.curved else 0.0
        rounded = 1 - abs(part / 6 - 1) ** 6
        top = HEIGHT / 2 + hang + HIGH * _SIZE * (0.5 - ring.hidden * rounded)
        outline.append((x, top))
    return area([*outline, (ends[1], HEIGHT), (ends[0], HEIGHT)], PLAIN, INK)

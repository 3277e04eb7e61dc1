"""A reader's display: 15 digits of seven segments, in groups or in one line, perhaps with a dead segment."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.charts.palette import BAND, GRID, INK
from audit.practice.reading.drawing import HEIGHT, WIDTH, area, line, whole_drawing
from audit.practice.reading.segments import SEGMENTS, may_be_dead

if TYPE_CHECKING:
    import numpy as np

    from audit.practice.reading.reading_levels import ReadingLevel

__all__ = ["Display", "display_of", "draw_display", "lit_segments"]

_PITCH, _WIDE, _HALF = 24.0, 13.0, 15.0
_GAP = 10.0
#: Digits after which a gap stands: maker or country, then groups of four.
_GROUPS = (3, 7, 11)
#: Segment -> where it begins and ends, in widths and half heights from the upper left corner.
_ENDS = {
    "a": ((0, 0), (1, 0)),
    "b": ((1, 0), (1, 1)),
    "c": ((1, 1), (1, 2)),
    "d": ((0, 2), (1, 2)),
    "e": ((0, 1), (0, 2)),
    "f": ((0, 0), (0, 1)),
    "g": ((0, 1), (1, 1)),
}


@dataclass(frozen=True, slots=True)
class Display:
    """How one display looks.

    Attributes
    ----------
    number : str
        Digits only.
    grouped : bool
    dead : (int, str) or None
        Place of a digit, and its segment that stays dark.
    """

    number: str
    grouped: bool = True
    dead: tuple[int, str] | None = None

    @property
    def says(self) -> str:
        """What is drawn, without the number."""
        how = "in groups" if self.grouped else "in one line"
        dead = "; one segment is dead" if self.dead else ""
        return f"A reader's display with {len(self.number)} digits {how}{dead}."


def display_of(number: str, level: ReadingLevel, rng: np.random.Generator) -> Display:
    """Decide how hard a display is to read; a dead segment leaves one reading only."""
    grouped, dead, place, segment = (float(one) for one in rng.random(4))
    found = None
    if dead < level.dead:
        at = int(place * len(number))
        fit = may_be_dead(number[at])
        found = (at, fit[int(segment * len(fit))])
    return Display(number, grouped < level.grouped, found)


def lit_segments(display: Display) -> tuple[str, ...]:
    """List which segments are lit, by digit."""
    lit = [SEGMENTS[digit] for digit in display.number]
    if display.dead is not None:
        place, segment = display.dead
        lit[place] = lit[place].replace(segment, "")
    return tuple(lit)


def draw_display(display: Display) -> str:
    """Return the drawing as SVG."""
    gaps = len([after for after in _GROUPS if after < len(display.number)]) if display.grouped else 0
    across = len(display.number) * _PITCH - (_PITCH - _WIDE) + gaps * _GAP
    # a long line is set smaller, so that it fits
    scale = min(1.0, (WIDTH - 40) / across)
    left, above = (WIDTH - across * scale) / 2, HEIGHT / 2 - _HALF * scale
    frame = [(6.0, 30.0), (WIDTH - 6.0, 30.0), (WIDTH - 6.0, HEIGHT - 30.0), (6.0, HEIGHT - 30.0)]
    parts = [area(frame, BAND, INK)]
    for place, lit in enumerate(lit_segments(display)):
        gap = _GAP * sum(place >= after for after in _GROUPS) if display.grouped else 0.0
        x = left + (place * _PITCH + gap) * scale
        parts += [_segment(x, above, scale, name, GRID) for name in _ENDS]
        parts += [_segment(x, above, scale, name, INK) for name in lit]
    return whole_drawing(parts, display.says)


def _segment(x: float, y: float, scale: float, name: str, colour: str) -> str:
    (from_x, from_y), (to_x, to_y) = _ENDS[name]
    # short of the corners, so that segments keep apart
    short_x, short_y = 0.17 * (to_x - from_x), 0.15 * (to_y - from_y)
    ends = [
        (x + scale * _WIDE * (from_x + short_x), y + scale * _HALF * (from_y + short_y)),
        (x + scale * _WIDE * (to_x - short_x), y + scale * _HALF * (to_y - short_y)),
    ]
    return line(ends, colour, 2.6 * scale if colour == INK else 1.0 * scale)

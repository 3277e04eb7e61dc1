"""A picture of what was estimated: the curve with its interval, and each age beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.charts.palette import BAND, GRID, INK, LINE, PAPER, QUIET
from audit.models.growth import mean

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.practice.ageing.clue import AgeClue
    from audit.practice.ageing.marking import MarkedAges

__all__ = ["ages_picture"]

_WIDE, _HIGH = 560.0, 340.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 56.0, 16.0, 16.0, 46.0
_POINTS = 60
_TICKS = (1, 2, 5, 10, 20, 50, 100)
_FEW = 6
_LEFT_OUT = " Those that were not measured are left out."


class _Frame:
    """Places of ages and sizes in the picture."""

    def __init__(self, ages: tuple[float, float], sizes: tuple[float, float]) -> None:
        self.ages, self.sizes = ages, sizes

    def x(self, age: float) -> float:
        first, last = self.ages
        kept = min(max(age, first), last)
        return _LEFT + (kept - first) / (last - first) * (_WIDE - _LEFT - _RIGHT)

    def y(self, size: float) -> float:
        low, high = self.sizes
        return _HIGH - _BOTTOM - (size - low) / (high - low) * (_HIGH - _TOP - _BOTTOM)


def ages_picture(marked: MarkedAges, clue: AgeClue) -> str:
    """Draw the ages of a marked round beside the curve.

    Returns
    -------
    str
        SVG. Estimates inside the interval have the class ``inside`` and are round, others have the class
        ``outside`` and are crosses; each carries the number of its nestling.
    """
    room = 2 * clue.half(clue.last)
    first, last = max(0.0, clue.first - room), clue.last + room
    ages = np.linspace(clue.first, clue.last, _POINTS)
    sizes = np.asarray(mean(clue.curve, ages))
    margin = 0.06 * float(sizes[-1] - sizes[0])
    low, high = _sizes(marked, clue)
    frame = _Frame((first, last), (min(low, float(sizes[0])) - margin, max(high, float(sizes[-1])) + margin))
    line = " ".join(f"{frame.x(age):.1f},{frame.y(size):.1f}" for age, size in zip(ages, sizes, strict=True))
    ends = [
        (age - clue.half(float(age)), age + clue.half(float(age)), size)
        for age, size in zip(ages, sizes, strict=True)
    ]
    band = [(start, size) for start, _, size in ends] + [(end, size) for _, end, size in reversed(ends)]
    told = " ".join(f"{frame.x(age):.1f},{frame.y(size):.1f}" for age, size in band)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" viewBox="0 0 {_WIDE:g} {_HIGH:g}" '
        f'width="{_WIDE:g}" height="{_HIGH:g}"><title>Your ages beside the curve and its interval</title>'
        f'<rect width="{_WIDE:g}" height="{_HIGH:g}" fill="{PAPER}"/>{"".join(_axes(frame, clue))}'
        f'<polygon points="{told}" fill="{BAND}" opacity="0.6"/>'
        f'<polyline points="{line}" fill="none" stroke="{LINE}" stroke-width="2"/>'
        f"{''.join(_estimates(marked, clue, frame))}</svg>"
        "<figcaption>Line: the curve. Band: its interval. Dots are your ages inside it, crosses those "
        f"outside; the numbers are those of the nestlings.{_LEFT_OUT * bool(marked.made.level.unmeasured)}"
        "</figcaption>"
    )


def _sizes(marked: MarkedAges, clue: AgeClue) -> tuple[float, float]:
    found = [bird.wing if clue.is_wing else bird.mass for bird in marked.made.nestlings]
    sizes = [size for size in found if size is not None] or [float(mean(clue.curve, clue.last))]
    return min(sizes), max(sizes)


def _axes(frame: _Frame, clue: AgeClue) -> Iterator[str]:
    floor = _HIGH - _BOTTOM
    for age in _ticks(*frame.ages):
        x = frame.x(age)
        yield f'<path d="M{x:.1f} {_TOP:g}V{floor:g}" stroke="{GRID}"/>'
        yield _text(f"{age:g}", x, floor + 16, "middle", QUIET)
    for size in _ticks(*frame.sizes):
        y = frame.y(size)
        yield f'<path d="M{_LEFT:g} {y:.1f}H{_WIDE - _RIGHT:g}" stroke="{GRID}"/>'
        yield _text(f"{size:g}", _LEFT - 6, y + 4, "end", QUIET)
    name = "wing, mm" if clue.is_wing else "net mass, g"
    yield _text("age, days", (_LEFT + _WIDE - _RIGHT) / 2, _HIGH - 8, "middle", INK)
    yield (
        f'<text transform="translate(14 {(_TOP + floor) / 2:g}) rotate(-90)" font-size="13" '
        f'text-anchor="middle" fill="{INK}">{name}</text>'
    )


def _ticks(low: float, high: float) -> np.ndarray:
    step = next((step for step in _TICKS if (high - low) / step <= _FEW), _TICKS[-1])
    return np.arange(np.ceil(low / step) * step, high + step / 1000, step)


def _estimates(marked: MarkedAges, clue: AgeClue, frame: _Frame) -> Iterator[str]:
    for number, (bird, one) in enumerate(zip(marked.made.nestlings, marked.estimates, strict=True), 1):
        size = bird.wing if clue.is_wing else bird.mass
        if one.off is None or size is None:
            continue
        x, y = frame.x(bird.age + one.off), frame.y(size)
        if one.kind == "inside":
            yield f'<circle class="inside" cx="{x:.1f}" cy="{y:.1f}" r="4.5" fill="{INK}"/>'
        else:
            yield (
                f'<path class="outside" d="M{x - 5:.1f} {y - 5:.1f}l10 10m0 -10l-10 10" stroke="{INK}" '
                'stroke-width="2.5"/>'
            )
        yield _text(str(number), x + 8, y - 6, "start", INK)


def _text(words: str, x: float, y: float, anchor: str, colour: str) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="12" text-anchor="{anchor}" fill="{colour}">{words}</text>'
    )

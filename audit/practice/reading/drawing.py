"""A drawing as SVG: numbers rounded, colours of the palette, and words for who cannot see it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.review.typed_rows import safe

if TYPE_CHECKING:
    from collections.abc import Iterable

    from audit.practice.reading.signs import Point

__all__ = ["HEIGHT", "WIDTH", "area", "line", "speck", "whole_drawing"]

#: Size of every drawing.
WIDTH, HEIGHT = 420, 150


def line(points: Iterable[Point], colour: str, wide: float) -> str:
    """Draw a stroke with round ends."""
    return (
        f'<polyline points="{_listed(points)}" fill="none" stroke="{colour}" stroke-width="{wide:.1f}" '
        'stroke-linecap="round" stroke-linejoin="round"/>'
    )


def area(points: Iterable[Point], fill: str, edge: str = "none") -> str:
    """Draw a filled outline."""
    return f'<polygon points="{_listed(points)}" fill="{fill}" stroke="{edge}" stroke-width="1"/>'


def speck(at: Point, size: float, fill: str) -> str:
    """Draw a round speck."""
    return f'<circle cx="{at[0]:.1f}" cy="{at[1]:.1f}" r="{size:.1f}" fill="{fill}"/>'


def whole_drawing(parts: Iterable[str], says: str) -> str:
    """Put parts together.

    Parameters
    ----------
    says : str
        What the drawing shows, without the number itself: whoever hears it must not be told the answer.
    """
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" '
        f'height="{HEIGHT}" role="img" aria-label="{safe(says)}">{"".join(parts)}</svg>'
    )


def _listed(points: Iterable[Point]) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in points)

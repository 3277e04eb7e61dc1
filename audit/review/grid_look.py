"""The look of a grid: one style sheet, made from the palette."""

from __future__ import annotations

from pathlib import Path

from audit.charts.palette import BAND, GRID, INK, LINE, PAPER, QUIET, TONES

__all__ = ["grid_look"]

#: Border styles of spreadsheet cells as a page has them.
_BORDERS = {"medium": "solid", "mediumDashed": "dashed", "dotted": "dotted"}


def grid_look() -> str:
    """Return the palette as variables, what stands in the file beside this one, and the marks of cells."""
    named = {
        "ink": INK,
        "quiet": QUIET,
        "paper": PAPER,
        "rule": GRID,
        "band": BAND,
        "line": LINE,
        "conflict": TONES["error"].mark,
    }
    names = "".join(f"--{name}:{value};" for name, value in named.items())
    file = Path(__file__).with_name("grid.css").read_text(encoding="utf-8")
    # of two marks of one cell the gravest wins, since it stands last
    marks = "\n".join(
        f'.nestproof-grid [data-mark~="{word}"]'
        f"{{background:{tone.fill};border:2px {_BORDERS[tone.border]} {tone.mark}}}\n"
        f'.nestproof-grid [data-mark~="{word}"] span'
        f"{{text-decoration:underline {tone.underline} {tone.mark}}}"
        for word, tone in reversed(list(TONES.items()))
    )
    return f".nestproof-grid{{{names}}}\n{file}\n{marks}\n"

"""Colours, shapes and words of severities and fates: defined once, for charts, pages and sheets.

No meaning is carried by colour alone: each severity has its own shape, border, underline and word as well,
each fate of a ring its sign. The values were picked so that the marks keep apart for the common kinds of
colour blindness and so that text on each fill is easy to read; a test holds both.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.findings import Severity

__all__ = [
    "BAND",
    "CHANGED",
    "FATES",
    "GRID",
    "INK",
    "LINE",
    "PAPER",
    "PLAIN",
    "QUIET",
    "ROLES",
    "TONES",
    "FateTone",
    "Role",
    "Tone",
]

#: Text.
INK = "#1c2430"
#: Text of lesser weight.
QUIET = "#545e6b"
#: Background.
PAPER = "#ffffff"
#: Points that nothing is said about.
PLAIN = "#7d8794"
#: Declared curves.
LINE = "#3f5b52"
#: Bands around declared curves.
BAND = "#b9cbc2"
#: Grid lines and rules of tables.
GRID = "#d9dee3"


@dataclass(frozen=True, slots=True)
class Tone:
    """How one severity looks.

    Attributes
    ----------
    word : str
        What stands beside the colour.
    mark : str
        Colour of points, borders and underlines, ``#rrggbb``.
    fill : str
        Background of a cell under dark text, ``#rrggbb``.
    shape : str
        Shape of a point.
    border : str
        Border of a spreadsheet cell, a name of the spreadsheet standard (ISO/IEC 29500, ST_BorderStyle).
    underline : str
        Line under typed text on a page, a name of CSS text-decoration-style.
    """

    word: str
    mark: str
    fill: str
    shape: str
    border: str
    underline: str


TONES: Mapping[Severity, Tone] = {
    "error": Tone("ERROR", "#8c1150", "#f2b3cd", "diamond", "medium", "double"),
    "suspect": Tone("SUSPECT", "#b86a00", "#ffe2a6", "triangle-up", "mediumDashed", "wavy"),
    "note": Tone("NOTE", "#1f7391", "#d3e8f1", "square", "dotted", "dotted"),
}


#: A cell of a workbook that holds what was decided, no longer what was typed; it has a note as well.
CHANGED = Tone("CHANGED", LINE, "#e4efe9", "circle", "thin", "solid")


@dataclass(frozen=True, slots=True)
class Role:
    """How a record looks in a picture of one finding, by what it has to do with it.

    Attributes
    ----------
    word : str
        What the legend says.
    mark : str
        Colour of the outline, ``#rrggbb``.
    fill : str
        Colour inside; that of the paper for a hollow point.
    shape : str
        None that a severity has.
    size : int
        Area of the point, square pixels.
    """

    word: str
    mark: str
    fill: str
    shape: str
    size: int


#: Records that a finding does not blame, in the order of a legend.
ROLES: Mapping[str, Role] = {
    "again": Role("this bird at other visits", INK, PAPER, "circle", 75),
    "twin": Role("another row with this ring", INK, PAPER, "circle", 75),
    "mate": Role("same brood", LINE, LINE, "cross", 60),
    "handled": Role("bird handled", LINE, LINE, "circle", 38),
    "other": Role("other birds", PLAIN, PLAIN, "circle", 20),
    "same_hand": Role("other birds of this ringer", LINE, LINE, "circle", 38),
    "bag": Role("bag as typed", INK, PAPER, "circle", 75),
    "sum": Role("gross less net", INK, INK, "stroke", 150),
    "loss": Role("loss", INK, PAPER, "triangle-down", 75),
    "visit": Role("visit without a bird", QUIET, PAPER, "cross", 75),
}


@dataclass(frozen=True, slots=True)
class FateTone:
    """How one fate of a ring or tag looks in a strip of cells.

    Attributes
    ----------
    sign : str
        What stands in the cell.
    fill : str
        Colour of the cell, ``#rrggbb``.
    ink : str
        Colour of the sign on it.
    """

    sign: str
    fill: str
    ink: str


#: By the word of the fate, in the order of a legend.
FATES: Mapping[str, FateTone] = {
    "on a bird": FateTone("\u2022", "#3e6c55", PAPER),
    "lost": FateTone("L", "#831485", PAPER),
    "destroyed": FateTone("D", "#31152d", PAPER),
    "returned": FateTone("R", "#7aa9d0", INK),
    "passed on": FateTone("P", "#aa7de6", INK),
    "before this season": FateTone("<", "#cdd3d9", INK),
    "in hand": FateTone("", PAPER, INK),
    "read, on no row": FateTone("r", "#7aa9d0", INK),
    "unaccounted": FateTone("?", "#f0a437", INK),
}

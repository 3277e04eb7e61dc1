"""Where the invented demo season stands: in a checkout, an editable install or a wheel."""

from __future__ import annotations

from pathlib import Path

from audit.refusal import SeasonRefusal

__all__ = ["demo_season"]

_WORKBOOK = "sallow-levels-2026.xlsx"


def demo_season() -> tuple[Path, Path]:
    """Find the demo workbook and the demo team's folder of declarations.

    Raises
    ------
    SeasonRefusal
        Neither place holds it: the installation is incomplete.
    """
    package = Path(__file__).resolve().parent
    places = (package / "demo_season", package.parent / "notebooks" / "demo")
    for place in places:
        if (place / _WORKBOOK).is_file():
            return place / _WORKBOOK, place / "schemas"
    raise SeasonRefusal(
        "The demo season is missing.",
        where=" or ".join(str(place) for place in places),
        cure="Install nestproof again, or run it from a checkout.",
    )

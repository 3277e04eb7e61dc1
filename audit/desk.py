"""The first desks of a notebook: pick a season, look over its headers."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from audit.checking import declarations_of
from audit.intake import propose_mapping
from audit.intake.desk import HeaderDesk, SeasonPicker
from audit.refusal import SeasonRefusal

if TYPE_CHECKING:
    from audit.declarations import Declarations

__all__ = ["header_desk", "pick_season"]


def pick_season(folder: str | Path = ".") -> SeasonPicker:
    """List the season files in a folder and below it, to pick one."""
    return SeasonPicker(folder)


def header_desk(source: str | Path | None, *, schemas: str | Path | Declarations | None = None) -> HeaderDesk:
    """Show what every header of a season was taken for, to mend and save it.

    Raises
    ------
    audit.refusal.SeasonRefusal
        No file was picked, or it cannot be read.
    """
    if source is None:
        raise SeasonRefusal(
            "No season was picked.", where="the list above", cure="Put the workbook beside this notebook."
        )
    declared = declarations_of(schemas)
    return HeaderDesk(Path(source), propose_mapping(Path(source), declared), declared)

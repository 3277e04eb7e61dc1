"""The season that a call names, and what it names beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse
    from pathlib import Path

    from audit.declarations import Declarations
    from audit.season import Season

__all__ = ["inputs_asked", "season_asked"]


def season_asked(asked: argparse.Namespace, declared: Declarations) -> Season:
    """Read the season with all that was named beside it."""
    from audit.checking import read_season

    return read_season(
        asked.season,
        schemas=declared,
        mapping=asked.mapping,
        reads=asked.reads,
        detections=asked.detections,
        earlier=asked.earlier,
    )


def inputs_asked(asked: argparse.Namespace) -> tuple[Path | None, ...]:
    """Name the files that no result may replace."""
    return (asked.season, asked.reads, asked.detections, asked.mapping, *asked.earlier)

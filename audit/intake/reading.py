"""Read a season: choose the reader by the kind of source."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.refusal import SeasonRefusal

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    import pandas as pd

    from audit.declarations import Declarations
    from audit.season import Season

__all__ = ["read"]


def read(
    source: str | Path | Mapping[str, pd.DataFrame],
    declared: Declarations,
    *,
    mapping: Path | None = None,
    reads: Path | None = None,
    detections: Path | None = None,
) -> Season:
    """Read a season as typed."""
    raise SeasonRefusal("Nothing can be read yet.", where=str(source), cure="")

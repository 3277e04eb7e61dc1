"""What was found in an archive, written season by season."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from audit.archive.lines import csv_text

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Sequence
    from pathlib import Path

    from audit.archive.lines import Line

    #: Writes lines as a Parquet file.
    WriteParquet = Callable[[Sequence[Line], Path], None]

__all__ = ["season_folder", "tidy", "write_season"]

_FINDINGS = "findings"


def season_folder(season: str) -> str:
    """Name the folder of a season; seasons whose names a folder cannot bear are told apart by a checksum.

    Examples
    --------
    >>> season_folder("2019"), season_folder(""), season_folder("2019/20")
    ('season=2019', 'season=unknown', 'season=2019-20-8014')
    """
    name = "".join(sign if sign.isalnum() or sign in "-_." else "-" for sign in season)
    if name != season or name.strip(".") != name:
        name += f"-{hashlib.blake2b(season.encode('utf-8', 'surrogatepass'), digest_size=2).hexdigest()}"
    return f"season={name or 'unknown'}"


def write_season(out: Path, season: str, lines: Sequence[Line], parquet: WriteParquet | None) -> Path:
    """Write the lines of a season; the file gets its name when it is whole.

    Parameters
    ----------
    out : Path
        Folder of the results.
    season : str
    lines : sequence of Line
    parquet : callable or None
        Writes Parquet instead of CSV.
    """
    folder = out / _FINDINGS / season_folder(season)
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / ("findings.csv" if parquet is None else "findings.parquet")
    half = path.with_name(f"{path.name}.half")
    if parquet is None:
        half.write_text(csv_text(lines), encoding="utf-8", newline="\n")
    else:
        parquet(lines, half)
    half.replace(path)
    return path


def tidy(out: Path, pieces: Path, used: Collection[str], written: Sequence[Path]) -> None:
    """Remove what an earlier run found in seasons that are no more, and pieces that nobody asks for."""
    for path in pieces.glob("*"):
        if path.stem not in used:
            path.unlink(missing_ok=True)
    keep = {path.resolve() for path in written}
    for path in (out / _FINDINGS).glob("season=*/findings.*"):
        if path.resolve() not in keep:
            path.unlink(missing_ok=True)
            if not any(path.parent.iterdir()):
                path.parent.rmdir()

"""Seasons as files: an invented season under canonical headers, in every form that can be read."""

from __future__ import annotations

import datetime as dt
import hashlib
import zipfile
from typing import TYPE_CHECKING, Any

from invented import Style, invented_season
from sheets import BIRDS, HEADER, opendocument, text_file, workbook

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from invented import Row

__all__ = ["FORMS", "repacked", "small_season", "snapshot", "three_birds", "write_season"]


def small_season(seed: int = 3) -> dict[str, list[Row]]:
    """Some thirty handlings of six boxes, without a slip."""
    season = invented_season(seed, Style(boxes=6))
    return {table: rows for table, rows in season.items() if rows}


def three_birds(folder: Path, name: str = "round.xlsx") -> Path:
    """The smallest season that is one: date, box, ring and wing of three birds."""
    return workbook(folder / name, {"handlings": [HEADER, *BIRDS]})


def _grid(rows: Sequence[Row]) -> list[list[Any]]:
    fields = list(rows[0])
    return [fields, *([row[field] for field in fields] for row in rows)]


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dt.datetime):
        return value.isoformat(sep=" ")
    return f"{value:g}" if isinstance(value, float) else str(value)


def _as_text(season: Mapping[str, Sequence[Row]]) -> dict[str, list[list[str]]]:
    return {table: [[_text(cell) for cell in row] for row in _grid(rows)] for table, rows in season.items()}


def _xlsx(season: Mapping[str, Sequence[Row]], folder: Path) -> Path:
    return workbook(folder / "round.xlsx", {table: _grid(rows) for table, rows in season.items()})


def _ods(season: Mapping[str, Sequence[Row]], folder: Path) -> Path:
    return opendocument(folder / "round.ods", _as_text(season))


def _folder(season: Mapping[str, Sequence[Row]], folder: Path) -> Path:
    inside = folder / "round"
    inside.mkdir()
    for table, rows in _as_text(season).items():
        text_file(inside / f"{table}.csv", rows)
    return inside


def _csv(season: Mapping[str, Sequence[Row]], folder: Path) -> Path:
    return text_file(folder / "handlings.csv", _as_text(season)["handlings"], delimiter=";")


FORMS = {"workbook": _xlsx, "open document": _ods, "folder of text files": _folder, "text file": _csv}


def write_season(season: Mapping[str, Sequence[Row]], folder: Path, form: str = "workbook") -> Path:
    """Write a season in one of FORMS."""
    return FORMS[form](season, folder)


def snapshot(folder: Path) -> dict[str, tuple[str, int]]:
    """Content and time of every file below a folder, to see that nothing was touched."""
    return {
        str(path.relative_to(folder)): (
            # a file of many megabytes is told by its size
            hashlib.sha256(path.read_bytes()).hexdigest() if path.stat().st_size < 5e6 else "large",
            path.stat().st_mtime_ns,
        )
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def repacked(source: Path, target: Path, parts: Mapping[str, bytes]) -> Path:
    """Copy a zipped file with some of its parts replaced or added."""
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        for name in dict.fromkeys([*old.namelist(), *parts]):
            new.writestr(name, parts[name] if name in parts else old.read(name))
    return target

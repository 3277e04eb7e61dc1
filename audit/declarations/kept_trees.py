"""Shipped declarations that were read and checked before, kept beside the bytecode of this package.

They are taken for what the files say only where every byte of these, and of the program that read them, is
the same. Where no bytecode may be written, nothing is kept.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import sys
from importlib.util import cache_from_source
from pathlib import Path
from typing import TYPE_CHECKING, Any

import yaml

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

__all__ = ["keep_trees", "kept_trees", "reading_of"]

#: Name of a document -> what it holds, as plain values.
Trees = dict[str, dict[str, Any]]


def reading_of(folder: Path) -> str:
    """Take the checksum of all files of a folder of declarations, and of the program that reads them.

    Parameters
    ----------
    folder : Path
        The shipped declarations.
    """
    whole = hashlib.sha256(f"{sys.version} {yaml.__version__}\n".encode())
    for root, ending in ((folder, ".yaml"), (Path(__file__).parent, ".py")):
        for path in _files(root, ending):
            told = path.read_bytes()
            whole.update(f"{path.relative_to(root).as_posix()} {len(told)}\n".encode() + told)
    return whole.hexdigest()


def kept_trees(reading: str) -> Trees | None:
    """Return what was kept of this very reading; None where nothing was.

    Parameters
    ----------
    reading : str
        As `reading_of` gives it.
    """
    try:
        first, _, told = _place().read_text(encoding="utf-8").partition("\n")
        return json.loads(told) if first == _first_line(reading, told) else None
    except (OSError, ValueError, NotImplementedError):
        return None


def keep_trees(reading: str, trees: Mapping[str, Mapping[str, Any]]) -> None:
    """Keep declarations that were read and found right; that they cannot be kept is no fault.

    Parameters
    ----------
    reading : str
        As `reading_of` gave it before they were read and gives it still.
    trees : mapping of str to mapping
        All documents by name.
    """
    if sys.dont_write_bytecode:
        return
    told = json.dumps(trees, separators=(",", ":"))
    with contextlib.suppress(OSError, NotImplementedError):
        place = _place()
        place.parent.mkdir(parents=True, exist_ok=True)
        # of each process its own, so that only whole files get the name
        made = place.with_name(f"{place.name}.{os.getpid()}")
        try:
            made.write_text(f"{_first_line(reading, told)}\n{told}", encoding="utf-8")
            made.replace(place)
        finally:
            made.unlink(missing_ok=True)


def _files(root: Path, ending: str) -> Iterator[Path]:
    return (path for path in sorted(root.rglob(f"*{ending}")) if path.is_file())


def _place() -> Path:
    return Path(cache_from_source(__file__)).with_suffix(".json")


def _first_line(reading: str, told: str) -> str:
    return f"{reading} {hashlib.sha256(told.encode()).hexdigest()}"

"""What the files of a season held when they were read: their checksums."""

from __future__ import annotations

import hashlib
from math import inf
from pathlib import Path
from typing import TYPE_CHECKING

from audit.season import FileRead

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["fingerprint", "fingerprints"]


def fingerprint(path: Path) -> FileRead:
    """Take the checksum of one file.

    Raises
    ------
    OSError
        The file cannot be read.

    References
    ----------
    SHA-256: FIPS 180-4, as the standard library has it.
    """
    with path.open("rb") as stream:
        return FileRead(str(path), hashlib.file_digest(stream, "sha256").hexdigest(), path.stat().st_size)


def fingerprints(*sources: object, most: float = inf) -> tuple[FileRead, ...]:
    """Take the checksums of all files that sources name: a folder stands for the files in it.

    Parameters
    ----------
    *sources
        Paths, or what else a season is read from. Data frames, None and paths at which nothing can be read
        have no checksum: whoever opens them says what is wrong.
    most : float
        Bytes; larger files are passed by, since nobody is going to read them.
    """
    files = []
    for path in dict.fromkeys(_paths(sources)):
        try:
            if path.stat().st_size <= most:
                files.append(fingerprint(path))
        except OSError:
            continue
    return tuple(files)


def _paths(sources: tuple[object, ...]) -> Iterator[Path]:
    for source in sources:
        if not isinstance(source, str | Path):
            continue
        path = Path(source)
        try:
            inside = sorted(path.iterdir()) if path.is_dir() else [path]
        except OSError:
            continue
        yield from (file for file in inside if file.is_file() and not file.name.startswith((".", "~$")))

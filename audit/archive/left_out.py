"""Files that lie among those of an archive and are not read: empty ones, others, and copies."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from audit.archive.archive_files import READ
from audit.intake.wording import listed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.archive.archive_files import ArchiveFile

__all__ = ["once_each", "passed_by"]

#: Files that are told of by name before the rest is counted.
_FEW = 5


def passed_by(sources: Sequence[str | Path], files: Sequence[ArchiveFile]) -> tuple[str, ...]:
    """Tell of the files that lie in the folders named and are not read."""
    read = {file.path.resolve() for file in files}
    empty: list[str] = []
    others: list[str] = []
    for source in map(Path, sources):
        for path in sorted(source.rglob("*")) if source.is_dir() else ():
            hidden = any(part.startswith((".", "_", "~$")) for part in path.relative_to(source).parts)
            if hidden or not path.is_file() or path.resolve() in read or path.name.endswith(".mapping.yaml"):
                continue
            (others if path.suffix.lower() not in READ else empty).append(path.relative_to(source).as_posix())
    told = []
    if empty:
        told.append(f"Nothing is written in {_some(empty)}: where a season is missing, save it again.")
    if others:
        told.append(f"Neither tables nor workbooks, and not read: {_some(others)}.")
    return tuple(told)


def _some(names: Sequence[str]) -> str:
    if len(names) <= _FEW:
        return listed(names)
    return f"{', '.join(names[:_FEW])} and {len(names) - _FEW:,} others"


def once_each(files: Sequence[ArchiveFile]) -> tuple[tuple[ArchiveFile, ...], list[str]]:
    """Leave out files that hold byte by byte what another one of the same table holds.

    Parameters
    ----------
    files : sequence of ArchiveFile
        With their checksums.

    Returns
    -------
    tuple of ArchiveFile
        The first of each, by name.
    list of str
        A sentence for each that was left out. A season with tables of its own is left out by none of them.
    """
    first: dict[tuple[str, str], ArchiveFile] = {}
    found, told = [], []
    for file in files:
        known = first.setdefault((file.table, file.sha256), file)
        if known is file or file.book is not None:
            found.append(file)
        else:
            told.append(
                f"{file.name} holds the same as {known.name}, byte by byte, and was counted once: take one "
                "of them out of the archive."
            )
    return tuple(found), told

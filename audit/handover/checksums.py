"""Checksums of what went in and what went out: whether a file is still the one that was checked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.intake.fingerprint import fingerprint
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from audit.season import FileRead

__all__ = ["LIST_NAME", "checksum_list", "checksums_in", "refuse_changed"]

LIST_NAME = "checksums.sha256"


def checksums_in(folder: Path) -> list[tuple[str, str, int]]:
    """Take name, SHA-256 and bytes of every file of a folder, by name; ``/`` between folders."""
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return [
        (path.relative_to(folder).as_posix(), one.sha256, one.size)
        for path in files
        for one in [fingerprint(path)]
    ]


def checksum_list(sums: Iterable[tuple[str, str, int]]) -> str:
    """Write checksums in the form that ``sha256sum --check`` reads: sum, two blanks, name."""
    return "".join(f"{sha256}  {name}\n" for name, sha256, _ in sums)


def refuse_changed(files: Iterable[FileRead]) -> None:
    """Refuse to go on when a file that was read is another one by now.

    Raises
    ------
    audit.refusal.Refusal
        A file was changed, moved or cannot be read any more.
    """
    from pathlib import Path

    for before in files:
        try:
            now = fingerprint(Path(before.path))
        except OSError as fault:
            raise Refusal(
                f"A file that was read cannot be read any more: {fault.strerror or fault}.",
                where=before.path,
                cure="Put it back where it was, close it in other programs, and hand over again.",
            ) from fault
        if now.sha256 != before.sha256:
            raise Refusal(
                "This file was changed since it was read, so that what was checked is not what is there now.",
                where=before.path,
                cure="Save it, close it in other programs, read the season again and hand over then.",
            )

"""The declarations that a season was read and audited with, packed to go with it."""

from __future__ import annotations

import zipfile
from typing import TYPE_CHECKING

from audit.handover.part import Part

if TYPE_CHECKING:
    from pathlib import Path

    from audit.declarations import Declarations

__all__ = ["declarations_part"]

_NAME = "declarations.zip"
#: The first moment that a zip can hold: the same declarations give the same bytes.
_NO_DATE = (1980, 1, 1, 0, 0, 0)


def declarations_part(declared: Declarations) -> Part:
    """Pack the shipped declarations as ``shipped/`` and a team's own as ``own/``.

    Returns
    -------
    Part
        ``declarations.zip``.
    """
    folders = dict(zip(("shipped", "own"), declared.sources, strict=False))
    return Part(
        "The declarations that it was checked with",
        {_NAME: lambda path: _pack(folders, path)},
    )


def _pack(folders: dict[str, Path], path: Path) -> None:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, folder in folders.items():
            for file in sorted(folder.rglob("*.y*ml")):
                inside = file.relative_to(folder)
                if any(part.startswith(".") for part in inside.parts):
                    continue
                entry = zipfile.ZipInfo(f"{name}/{inside.as_posix()}", _NO_DATE)
                entry.compress_type = zipfile.ZIP_DEFLATED
                entry.external_attr = 0o644 << 16
                archive.writestr(entry, file.read_bytes())

"""The public archive as a part of the handover."""

from __future__ import annotations

import re
import zipfile
from functools import partial
from typing import TYPE_CHECKING

from audit.handover.darwin_core.tables import darwin_core_tables
from audit.handover.file_stem import file_stem
from audit.handover.part import Part

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from audit.handover.clean.decided_season import DecidedSeason

__all__ = ["darwin_core_part"]

#: The first moment that a zip can hold, so that the same season gives the same bytes.
_NO_DATE = (1980, 1, 1, 0, 0, 0)
#: Made under Unix, an ordinary file that all may read: what a zip says of its files, on whatever machine.
_UNIX, _READABLE = 3, 0o100644 << 16


def darwin_core_part(decided: DecidedSeason) -> Part:
    """Make the Darwin Core Archive ``darwin-core/<season>-dwca.zip``.

    Parameters
    ----------
    decided : DecidedSeason
        The season with all that was decided; cells that are not settled are left empty.

    Returns
    -------
    Part
        One file: the archive with ``meta.xml``, ``eml.xml`` and the tables. The same season gives the same
        bytes.
    """
    tables = darwin_core_tables(decided)
    name = re.sub(r"[^\w.-]+", "-", file_stem(decided.clean.name)).strip("-.") or "season"
    return Part(
        title="Darwin Core Archive, for everybody",
        files={f"darwin-core/{name}-dwca.zip": partial(_pack, files=tables.files)},
        told=tables.told,
    )


def _pack(path: Path, files: Mapping[str, bytes]) -> None:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        for name in sorted(files):
            entry = zipfile.ZipInfo(name, _NO_DATE)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.create_system, entry.external_attr = _UNIX, _READABLE
            packed.writestr(entry, files[name])

"""A plain copy of a text file that the engine cannot read as it is: signs of other encodings, and holes."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from audit.antennas.reading import read_into
from audit.refusal import Refusal

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

    from audit.antennas.layout import Layout

__all__ = ["read_plainly"]

_AT_ONCE = 1 << 22
#: What Latin-1 leaves free, programs under one system of windows fill.
_CODECS = {"latin-1": "cp1252"}


def read_plainly(engine: duckdb.DuckDBPyConnection, layout: Layout, nr: int, work: Path) -> Layout:
    """Read a file into the table ``raw``, from a copy where the engine cannot read the file itself.

    Parameters
    ----------
    nr : int
        The number under which the file stands in the table.
    work : Path
        Folder for the copy; the file itself is only read.

    Returns
    -------
    Layout
        As given, or that of the copy.

    Raises
    ------
    Refusal
        The engine cannot read the copy either.
    """
    if layout.plain:
        try:
            read_into(engine, layout, nr)
        except Refusal:
            if not layout.separator:
                raise
        else:
            return layout
    copied = replace(layout, copy=_copied(layout, work / f"{nr}.txt"), encoding="utf-8")
    read_into(engine, copied, nr)
    return copied


def _copied(layout: Layout, copy: Path) -> Path:
    """Write the text in UTF-8 and without holes; lines keep their numbers."""
    codec = _CODECS.get(layout.encoding, layout.encoding)
    try:
        with (
            layout.path.open(encoding=codec, errors="replace", newline="") as source,
            copy.open("w", encoding="utf-8", newline="") as target,
        ):
            while piece := source.read(_AT_ONCE):
                target.write(piece.replace("\0", ""))
    except OSError as fault:
        raise Refusal(
            f"The file cannot be read to its end ({fault.strerror or fault}).",
            where=str(layout.path),
            cure="Copy it from the logger again, and see that the disk has room for a copy of it.",
        ) from fault
    return copy

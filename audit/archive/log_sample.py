"""A look into a text file: its first lines, and lines from places all over it."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.refusal import Refusal

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["Sample", "cells", "take_sample"]

_BYTES_PER_LINE = 400


@dataclass(frozen=True, slots=True)
class Sample:
    """Lines of a file.

    Attributes
    ----------
    first : tuple of str
        The first lines, blank ones included.
    spread : tuple of str
        Lines from places all over the file, in order.
    encoding : str
        ``utf-8``, ``utf-16`` or ``latin-1``, as the engine calls them.
    """

    first: tuple[str, ...]
    spread: tuple[str, ...]
    encoding: str = "utf-8"

    @property
    def quoted(self) -> bool:
        """Whether a quotation mark stands in any line."""
        return any('"' in line for line in (*self.first, *self.spread))


def take_sample(path: Path, most: int) -> Sample:
    """Take lines of a text file.

    Parameters
    ----------
    most : int
        Lines at the start, and again from all over the file.

    Raises
    ------
    Refusal
        It cannot be opened, or is no text.
    """
    try:
        size = path.stat().st_size
        with path.open("rb") as stream:
            head = stream.read(most * _BYTES_PER_LINE)
            whole = len(head) == size
            pieces = []
            for nr in range(0 if whole else most):
                stream.seek(size * nr // most)
                stream.readline(_BYTES_PER_LINE)
                pieces.append(stream.readline(_BYTES_PER_LINE))
    except OSError as fault:
        raise Refusal(
            f"The file cannot be opened ({fault.strerror or fault}).",
            where=str(path),
            cure="Close it in other programs, check that you may read it, and try again.",
        ) from fault
    encoding = _encoding(head, path)
    if encoding == "utf-16":
        text = head[: len(head) // 2 * 2].decode("utf-16", "replace")
        lines = text.splitlines()
        return Sample(tuple(lines[:most]), (), "utf-16")
    text = head.decode("utf-8-sig" if encoding == "utf-8" else encoding, "replace")
    lines = text.splitlines()
    # the last line may be cut
    lines = lines if whole else lines[:-1]
    spread = tuple(piece.decode(encoding, "replace").rstrip("\r\n") for piece in pieces)
    return Sample(tuple(lines[:most]), spread, encoding)


def _encoding(head: bytes, path: Path) -> str:
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
    if b"\0" in head:
        raise Refusal(
            "This is no text file.",
            where=str(path),
            cure="Save the log as text (.csv or .txt), as the logger's own program does.",
        )
    try:
        # a sign of several bytes may be cut at the end
        head.decode("utf-8") if len(head) < 4 else head[: head.rfind(b"\n") + 1 or None].decode("utf-8")  # noqa: PLR2004 - the longest sign of UTF-8
    except UnicodeDecodeError:
        return "latin-1"
    return "utf-8"


def cells(line: str, separator: str) -> list[str]:
    """Part a line into its cells, without quotation marks and blanks around them.

    Examples
    --------
    >>> cells('"SL-03";outer; 21:14', ";")
    ['SL-03', 'outer', '21:14']
    """
    if '"' not in line:
        return [cell.strip() for cell in line.split(separator)]
    return [cell.strip() for cell in next(csv.reader([line], delimiter=separator), [])]

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
#: Encodings that the engine knows; the longer marks are looked for first.
_ENGINE = ("utf-8", "utf-16", "latin-1")
_MARKS = (
    (b"\xff\xfe\0\0", "utf-32-le"),
    (b"\0\0\xfe\xff", "utf-32-be"),
    (b"\xff\xfe", "utf-16"),
    (b"\xfe\xff", "utf-16-be"),
)
#: Text of two bytes a sign has a nought in more than one of so many bytes, nearly all at one side.
_MOST_WIDE = 5
_TEXT = bytes((0, *b"\t\n\r\f", *range(0x20, 0x100)))


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
        ``utf-8``, ``utf-16`` or ``latin-1``, as the engine calls them; another name of a codec where it knows
        none.
    plain : bool
        The engine can read the file as it is.
    """

    first: tuple[str, ...]
    spread: tuple[str, ...]
    encoding: str = "utf-8"
    plain: bool = True

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
    wide = encoding.startswith(("utf-16", "utf-32"))
    # a holed log lost its power while it was written
    plain = encoding in _ENGINE and (wide or b"\0" not in head)
    codec = {"utf-8": "utf-8-sig", "utf-16": "utf-16-le"}.get(encoding, encoding)
    lines = head.decode(codec, "replace").replace("\0", "").lstrip("\ufeff").splitlines()
    # the last line may be cut
    lines = lines if whole else lines[:-1]
    spread = () if wide else tuple(piece.decode(encoding, "replace").rstrip("\r\n") for piece in pieces)
    return Sample(tuple(lines[:most]), tuple(line.replace("\0", "") for line in spread), encoding, plain)


def _encoding(head: bytes, path: Path) -> str:
    for mark, wide in _MARKS:
        if head.startswith(mark):
            return wide
    even, odd = head[::2].count(0), head[1::2].count(0)
    if max(even, odd) > len(head) // _MOST_WIDE and min(even, odd) * _MOST_WIDE < max(even, odd):
        return "utf-16" if odd > even else "utf-16-be"
    # a power loss leaves holes between whole lines
    if b"\0" in head and (head.translate(None, _TEXT) or not any(_lines(head))):
        raise Refusal(
            "This is no text file.",
            where=str(path),
            cure="Save the log as text (.csv or .txt), as the logger's own program does.",
        )
    head = head.replace(b"\0", b"")
    try:
        # a sign of several bytes may be cut at the end
        head.decode("utf-8") if len(head) < 4 else head[: head.rfind(b"\n") + 1 or None].decode("utf-8")  # noqa: PLR2004 - the longest sign of UTF-8
    except UnicodeDecodeError:
        return "latin-1"
    return "utf-8"


def _lines(head: bytes) -> list[bytes]:
    return [line for line in head.replace(b"\0", b"").splitlines() if line.strip()]


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

"""The order in which a person looks for boxes."""

from __future__ import annotations

import re

__all__ = ["in_order"]


def in_order(box: str) -> tuple[bool, list[tuple[int, str]]]:
    """Let SL-9 stand before SL-10, and no box last.

    Examples
    --------
    >>> sorted(["SL-10", "", "SL-9"], key=in_order)
    ['SL-9', 'SL-10', '']
    """
    pieces = re.findall(r"[0-9]+|[^0-9]+", box)
    return not box, [(int(piece), "") if piece.isdecimal() else (-1, piece) for piece in pieces]

"""How pictures word counts and ranges."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["clipped", "counted", "spread"]

_MOST = 24


def counted(number: int, one: str, many: str = "") -> str:
    """Count things.

    Examples
    --------
    >>> counted(1, "row"), counted(1200, "row"), counted(2, "box", "boxes")
    ('1 row', '1,200 rows', '2 boxes')
    """
    return f"{number:,} {one if number == 1 else many or f'{one}s'}"


def clipped(text: str, most: int = _MOST) -> str:
    """Cut a text that is too long for a picture.

    Examples
    --------
    >>> clipped("SV03012"), clipped("SV03012", 4)
    ('SV03012', 'SV0…')
    """
    return text if len(text) <= most else f"{text[: most - 1]}…"


def spread(values: NDArray[np.float64], unit: str) -> str:
    """Say from where to where numbers go; empty without any.

    Examples
    --------
    >>> spread(np.array([151, np.nan, 138.0]), "mm"), spread(np.array([138.0]), "mm")
    ('138 to 151 mm', '138 mm')
    """
    known = values[np.isfinite(values)]
    if not len(known):
        return ""
    low, high = f"{known.min():g}", f"{known.max():g}"
    return f"{low} {unit}" if low == high else f"{low} to {high} {unit}"

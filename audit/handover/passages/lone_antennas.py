"""What to say of boxes where one antenna alone was heard."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from audit.handover.passages.passages_record import ANTENNAS

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from audit.models.reads import Passages

__all__ = ["lone_antennas"]


def lone_antennas(
    boxes: Sequence[str],
    box: NDArray[np.integer[Any]],
    antenna: NDArray[np.integer[Any]],
    reads: NDArray[np.integer[Any]],
    passages: Passages,
) -> Iterator[str]:
    """Say of which boxes no passages are told, since one antenna shows presence and no direction.

    Parameters
    ----------
    boxes : sequence of str
        Labels by code.
    box, antenna, reads : numpy.ndarray, shape (n,)
        Codes of boxes and antennas that were heard, sorted by box, and how often.
    passages : Passages
        As they are told.

    Yields
    ------
    str
        One sentence for each box.
    """
    alone = np.bincount(box, minlength=len(boxes)) == 1
    told = np.zeros(len(boxes), dtype=np.bool_)
    told[passages.box] = True
    for code, which, count in zip(box.tolist(), antenna.tolist(), reads.tolist(), strict=True):
        if alone[code] and not told[code]:
            yield (
                f"{boxes[code]}: only its {ANTENNAS[which]} antenna was heard ({count:,} reads). One antenna "
                "shows that a bird is there, and not which way it goes: no passages are told."
            )

"""A time in which an antenna, or a box, heard nothing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Ints = NDArray[np.int64]

__all__ = ["Silence", "silences"]


@dataclass(frozen=True, slots=True)
class Silence:
    """A time between two reads of an antenna, or before its first or after its last.

    Attributes
    ----------
    start, end : int
        Milliseconds; an antenna that was deaf in it was so from some moment after the start to some moment
        before the end.
    opens, closes : bool
        Whether the log begins, or ends, with it.
    """

    start: int
    end: int
    opens: bool = False
    closes: bool = False


def silences(times: Ints, start: int, end: int, least: float) -> list[Silence]:
    """Find the long silences.

    Parameters
    ----------
    times : numpy.ndarray of int64, shape (n,)
        Reads in order, in milliseconds.
    start, end : int
        Of the heard.
    least : float
        Shorter ones are none, in milliseconds.
    """
    edges = np.concatenate([[start], times, [end]])
    where = np.flatnonzero(np.diff(edges) > least)
    ends = zip(where.tolist(), edges[where].tolist(), edges[where + 1].tolist(), strict=True)
    return [Silence(begun, over, i == 0, i == len(times)) for i, begun, over in ends]

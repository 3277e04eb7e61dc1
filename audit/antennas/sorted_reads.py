"""Reads put in the order of box, tag, time and antenna."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate
from typing import TYPE_CHECKING, Any

import numpy as np

from audit.models.reads import Reads

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

__all__ = ["Packing", "order_of", "sorted_reads", "unpacked"]

_BITS = 63


@dataclass(frozen=True, slots=True)
class Packing:
    """How box, tag, time and antenna of a read are laid side by side into one whole number.

    Attributes
    ----------
    least : tuple of int
        The least of each, which is taken away.
    bits : tuple of int
        How many bits each then fills.
    """

    least: tuple[int, ...]
    bits: tuple[int, ...]

    @classmethod
    def of(cls, least: Sequence[int], most: Sequence[int]) -> Packing:
        """Make room for all between the least and the most of each."""
        bits = tuple((high - low).bit_length() for low, high in zip(least, most, strict=True))
        return cls(tuple(least), bits)

    @property
    def has_room(self) -> bool:
        """Whether a whole number of 64 bits, and no negative one, holds all four."""
        return sum(self.bits) <= _BITS

    @property
    def places(self) -> tuple[int, ...]:
        """Bits to the right of each."""
        behind = accumulate(reversed(self.bits), initial=0)
        return tuple(behind)[-2::-1]


def sorted_reads(
    box: NDArray[Any], tag: NDArray[Any], stamp: NDArray[np.int64], antenna: NDArray[Any]
) -> Reads:
    """Sort reads by box, tag, time and antenna.

    Parameters
    ----------
    box, tag, stamp, antenna : numpy.ndarray of int, shape (n,)
        In any order.

    Notes
    -----
    All four are laid side by side into one whole number where there is room, for such are sorted several
    times as fast as rows of four.
    """
    columns = (box, tag, stamp, antenna)
    if not len(stamp):
        return _reads(columns)
    packing = _packing(columns)
    if not packing.has_room:
        order = np.lexsort((antenna, stamp, tag, box))
        return _reads([one[order] for one in columns])
    return unpacked(_packed(columns, packing), packing)


def order_of(*columns: NDArray[Any]) -> NDArray[np.intp]:
    """Give the order of rows by some columns of whole numbers, the first before all others.

    Parameters
    ----------
    *columns : numpy.ndarray of int, shape (n,)

    Returns
    -------
    numpy.ndarray of int, shape (n,)
        Positions; rows that are equal in all columns keep their order.
    """
    if not len(columns[0]):
        return np.empty(0, dtype=np.intp)
    packing = _packing(columns)
    if not packing.has_room:
        return np.lexsort(columns[::-1])
    return np.argsort(_packed(columns, packing), kind="stable")


def _packing(columns: Sequence[NDArray[Any]]) -> Packing:
    return Packing.of([int(one.min()) for one in columns], [int(one.max()) for one in columns])


def _packed(columns: Sequence[NDArray[Any]], packing: Packing) -> NDArray[np.int64]:
    key = np.zeros(len(columns[0]), dtype=np.int64)
    for one, low, place in zip(columns, packing.least, packing.places, strict=True):
        key |= (one.astype(np.int64) - low) << place
    return key


def unpacked(key: NDArray[np.int64], packing: Packing) -> Reads:
    """Sort reads that are laid into whole numbers, and take these apart; the numbers are sorted in place."""
    key.sort()
    columns = zip(packing.least, packing.bits, packing.places, strict=True)
    return _reads([((key >> place) & ((1 << wide) - 1)) + low for low, wide, place in columns])


def _reads(columns: Sequence[NDArray[Any]]) -> Reads:
    box, tag, stamp, antenna = columns
    return Reads(
        box.astype(np.int32),
        tag.astype(np.int32),
        stamp.astype(np.int64, copy=False),
        antenna.astype(np.int8),
    )

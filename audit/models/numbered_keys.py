"""Whole numbers that stand for something, numbered by their values."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from typing import Any

    from numpy.typing import NDArray

    Ints = NDArray[np.int64]

__all__ = ["numbered", "numbered_runs"]

#: Keys are looked up in a table of all that may be, unless it were so many times as long.
_ROOM = 32


def numbered(key: Ints, most: int) -> tuple[Ints, Ints]:
    """Give the values of a key in order, and which of them stands at each place.

    Parameters
    ----------
    key : numpy.ndarray of int64, shape (n,)
        From 0 on, all below `most`.

    Returns
    -------
    values : numpy.ndarray of int64, shape (k,)
    row : numpy.ndarray of int64, shape (n,)

    Examples
    --------
    >>> [one.tolist() for one in numbered(np.array([4, 2, 4]), 5)]
    [[2, 4], [1, 0, 1]]
    """
    if most > _ROOM * len(key):
        values, row = np.unique(key, return_inverse=True)
        return values, row
    there = np.zeros(most, dtype=np.bool_)
    there[key] = True
    values = np.flatnonzero(there)
    place = np.empty(most, dtype=np.int64)
    place[values] = np.arange(len(values))
    return values, place[key]


def numbered_runs(key: NDArray[Any]) -> tuple[NDArray[Any], Ints]:
    """Give the same of any key, quickly where it never falls.

    Examples
    --------
    >>> [one.tolist() for one in numbered_runs(np.array([3, 3, 7]))]
    [[3, 7], [0, 0, 1]]
    """
    if not len(key) or (key[1:] < key[:-1]).any():
        values, row = np.unique(key, return_inverse=True)
        return values, row
    other = key[1:] != key[:-1]
    row = np.zeros(len(key), dtype=np.int64)
    np.cumsum(other, out=row[1:])
    return key[np.concatenate([[True], other])], row

"""What the antennas of nest boxes logged, how well they heard, and the passages of birds that follow."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["INNER", "OUTER", "Crossings", "Passages", "Reads", "Spells"]

OUTER, INNER = 0, 1


@dataclass(frozen=True, slots=True)
class Reads:
    """Reads of antennas, sorted by box, tag and time.

    Attributes
    ----------
    box, tag : numpy.ndarray of int32, shape (n,)
        Codes of the box and of the tag.
    at : numpy.ndarray of int64, shape (n,)
        Milliseconds since 1970 of the box's clock as set right.
    antenna : numpy.ndarray of int8, shape (n,)
        ``OUTER`` or ``INNER``.
    """

    box: NDArray[np.int32]
    tag: NDArray[np.int32]
    at: NDArray[np.int64]
    antenna: NDArray[np.int8]


@dataclass(frozen=True, slots=True)
class Spells:
    """How well each antenna heard, piece by piece; pieces of one box and antenna follow without gaps.

    Attributes
    ----------
    box : numpy.ndarray of int32, shape (n,)
        Code of the box.
    antenna : numpy.ndarray of int8, shape (n,)
        ``OUTER`` or ``INNER``.
    start, end : numpy.ndarray of int64, shape (n,)
        Milliseconds since 1970; the end is not part of the piece.
    state : numpy.ndarray of int8, shape (n,)
        0 awake, 1 asleep (nightly), 2 dead, 3 unknown.
    efficiency : numpy.ndarray of float64, shape (n,)
        Chance that a bird that crosses is read at least once; nan where unknown.
    """

    box: NDArray[np.int32]
    antenna: NDArray[np.int8]
    start: NDArray[np.int64]
    end: NDArray[np.int64]
    state: NDArray[np.int8]
    efficiency: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Passages:
    """Birds that went in or out.

    Attributes
    ----------
    box, tag : numpy.ndarray of int32, shape (n,)
        Codes of the box and of the tag.
    at : numpy.ndarray of int64, shape (n,)
        Milliseconds since 1970.
    direction : numpy.ndarray of int8, shape (n,)
        0 in, 1 out, 2 unknown.
    p : numpy.ndarray of float64, shape (n,)
        Probability that box, tag and direction are right.
    how : numpy.ndarray of int8, shape (n,)
        0 both antennas, 1 inferred.
    """

    box: NDArray[np.int32]
    tag: NDArray[np.int32]
    at: NDArray[np.int64]
    direction: NDArray[np.int8]
    p: NDArray[np.float64]
    how: NDArray[np.int8]


@dataclass(frozen=True, slots=True)
class Crossings:
    """How many crossings of each bird the antennas of a box heard while both were awake: expected numbers.

    Looks and rests are no crossings, as far as can be told; what is told of a crossing is a probability.

    Attributes
    ----------
    box, tag : numpy.ndarray of int32, shape (k,)
        Codes of the box and of the tag; each pair once.
    both, outer_only, inner_only : numpy.ndarray of float64, shape (k,)
        Crossings that both antennas heard, and one of them alone.
    neither : numpy.ndarray of float64, shape (k,)
        Crossings that no antenna heard, told by a bird that went the same way twice.
    """

    box: NDArray[np.int32]
    tag: NDArray[np.int32]
    both: NDArray[np.float64]
    outer_only: NDArray[np.float64]
    inner_only: NDArray[np.float64]
    neither: NDArray[np.float64]

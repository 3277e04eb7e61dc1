"""Codes that no bird carries: noise that passed all checks of a reader, or slips of a tag's code."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.read_groups import first_reads

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from numpy.typing import NDArray

    from audit.models.reads import Reads

    Ints = NDArray[np.int64]

__all__ = ["Ghosts", "find_ghosts"]

_SECOND = 1000


@dataclass(frozen=True, slots=True)
class Ghosts:
    """Which codes are ghosts.

    Attributes
    ----------
    ghost : numpy.ndarray of bool, shape (tags,)
        Whether the code is one.
    slip_of : numpy.ndarray of int64, shape (tags,)
        Position of the code that it is a slip of, where that decides; else -1.
    """

    ghost: NDArray[np.bool_]
    slip_of: NDArray[np.int64]


def find_ghosts(
    codes: Sequence[str],
    reads: Reads,
    gap: float,
    reads_most: int,
    times_rarer: float,
    known: Collection[str] = (),
    heard: tuple[Ints, Ints, Ints] | None = None,
) -> Ghosts:
    """Find codes that no bird carries.

    Parameters
    ----------
    codes : sequence of str
        Text of each code; ``reads.tag`` are positions in it.
    reads : Reads
        Sorted by box, tag and time.
    gap : float
        Seconds that part two groups of reads.
    reads_most : int
        A code that is read more often is a tag.
    times_rarer : float
        A code is a slip only of a code that is read so many times as often at one of its boxes.
    known : collection of str, optional
        Codes of tags that were given out; these are never ghosts.
    heard : tuple of three numpy.ndarray of int64, optional
        Codes and boxes, each pair once, and how often each was read, where `reads` are those of rare codes
        only.

    Returns
    -------
    Ghosts

    Notes
    -----
    A code that is not known is a tag when it was read twice in one group, or by both antennas; else it is a
    ghost. A rare code one character beside a frequent one, or with two neighbours exchanged, is a slip of
    that one even if it was read twice.
    """
    n = len(codes)
    starts = first_reads(reads)
    tag, long = reads.tag[starts].astype(np.int64), np.diff(starts, append=len(reads.at))
    by, at, often = (tag, reads.box[starts], long) if heard is None else heard
    count = np.bincount(by, often.astype(np.float64), n)
    solid = _solid(reads, starts, long, count[tag] <= reads_most, gap, n)
    listed = set(known)
    strange = np.array([code not in listed for code in codes], dtype=np.bool_)
    rare = strange & (count > 0) & (count <= reads_most)
    slip_of = _slips(codes, np.flatnonzero(rare & solid).tolist(), count, times_rarer, (by, at))
    return Ghosts(rare & (~solid | (slip_of >= 0)), slip_of)


def _solid(
    reads: Reads,
    starts: NDArray[np.int64],
    long: NDArray[np.int64],
    asked: NDArray[np.bool_],
    gap: float,
    n: int,
) -> NDArray[np.bool_]:
    """Whether codes were read twice in one group, of those that are asked about; shape (n,)."""
    pairs = (long - 1) * asked
    place = np.arange(pairs.sum()) + np.repeat(starts - (np.cumsum(pairs) - pairs), pairs)
    close = place[reads.at[place + 1] - reads.at[place] <= gap * _SECOND]
    found: NDArray[np.bool_] = np.bincount(reads.tag[close], minlength=n) > 0
    return found


def _slips(
    codes: Sequence[str],
    rare: list[int],
    count: NDArray[np.float64] | NDArray[np.int64],
    times_rarer: float,
    heard: tuple[Ints, Ints | NDArray[np.int32]],
) -> Ints:
    """Position of the most frequent code beside each rare one; `heard`: codes and boxes, each pair once."""
    found = np.full(len(codes), -1, dtype=np.int64)
    if not rare:
        return found
    texts = np.array(codes, dtype=np.str_)
    signs, long = texts.view(np.uint32).reshape(len(codes), -1), np.strings.str_len(texts)
    tag, box = heard
    for slip in rare:
        near = np.unique(tag[np.isin(box, box[tag == slip])])
        near = near[(count[near] >= times_rarer * count[slip]) & (long[near] == long[slip])]
        near = near[_beside(signs[near], signs[slip])]
        if len(near):
            found[slip] = near[np.argmax(count[near])]
    return found


def _beside(signs: NDArray[np.uint32], one: NDArray[np.uint32]) -> NDArray[np.bool_]:
    """Whether codes of one length, shape (k, m), differ from one in a character, or in the order of two."""
    other = signs != one
    many, first = other.sum(axis=1), other.argmax(axis=1)
    row, second = np.arange(len(signs)), np.minimum(first + 1, len(one) - 1)
    turned = (signs[row, first] == one[second]) & (signs[row, second] == one[first])
    found: NDArray[np.bool_] = (many <= 1) | ((many == 2) & turned)  # noqa: PLR2004 - two that are exchanged
    return found

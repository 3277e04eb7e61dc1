"""Codes that no bird carries: noise that passed all checks of a reader, or slips of a tag's code."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.read_groups import first_reads

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

    from numpy.typing import NDArray

    from audit.models.reads import Reads

    Ints = NDArray[np.int64]

__all__ = ["Ghosts", "find_ghosts"]

_WILD = "?"
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
) -> NDArray[np.int64]:
    """Position of the most frequent code beside each rare one; `heard`: codes and boxes, each pair once."""
    found = np.full(len(codes), -1, dtype=np.int64)
    if not rare:
        return found
    often = np.flatnonzero(count >= times_rarer)
    beside: dict[str, list[int]] = {}
    for k in often[np.argsort(-count[often], kind="stable")].tolist():
        for form in _forms(codes[k]):
            beside.setdefault(form, []).append(k)
    boxes: dict[int, set[int]] = {}
    for tag, box in zip(*(one.tolist() for one in heard), strict=True):
        boxes.setdefault(tag, set()).add(box)
    for slip in rare:
        near = {k for form in _forms(codes[slip]) for k in beside.get(form, ())}
        fit = [k for k in near if count[k] >= times_rarer * count[slip] and boxes[k] & boxes[slip]]
        if fit:
            found[slip] = max(fit, key=lambda k: (count[k], -k))
    return found


def _forms(code: str) -> Iterator[str]:
    """Yield forms that two codes share when they differ in one character, or in the order of two."""
    for k in range(len(code)):
        yield code[:k] + _WILD + code[k + 1 :]
    for k in range(len(code) - 1):
        yield code[:k] + _WILD * 2 + "".join(sorted(code[k : k + 2])) + code[k + 2 :]

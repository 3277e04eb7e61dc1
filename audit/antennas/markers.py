"""Marker tags: fixed beside an antenna as a sign of life, and no birds."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from audit.models.marker_beats import RARE_LEAST, find_beat
from audit.models.reads import INNER, OUTER, Reads

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from audit.models.health_beliefs import HealthBeliefs

__all__ = ["find_markers", "without_tags"]

_MILLI = 1000
#: Reads of a tag at a box that are looked at.
_MOST = 2000


def find_markers(reads: Reads, beliefs: HealthBeliefs, least_s: float) -> set[int]:
    """Find tags that are read at even, long intervals.

    Parameters
    ----------
    reads : Reads
        Sorted by box, tag and time.
    least_s : float
        The shortest interval of a marker tag, in seconds.

    Returns
    -------
    set of int
        Codes of tags.
    """
    found: set[int] = set()
    for begin, end in _birds(reads):
        tag = int(reads.tag[begin])
        if tag in found or end - begin < RARE_LEAST:
            continue
        for antenna in (OUTER, INNER):
            some = slice(begin, min(end, begin + _MOST))
            times = reads.at[some][reads.antenna[some] == antenna]
            beat = find_beat(times, beliefs.beats_least, beliefs.beat, beliefs.worth)
            if beat is not None and beat.interval >= least_s * _MILLI:
                found.add(tag)
    return found


def without_tags(reads: Reads, tags: Collection[int]) -> Reads:
    """Leave out the reads of some tags."""
    if not tags:
        return reads
    codes = np.fromiter(tags, dtype=np.int32)
    # a table of all codes is looked into faster than a few codes are sought
    there = np.ones(1 + max(int(reads.tag.max(initial=0)), int(codes.max())), dtype=np.bool_)
    there[codes] = False
    keep = there[reads.tag]
    if keep.all():
        return reads
    return Reads(reads.box[keep], reads.tag[keep], reads.at[keep], reads.antenna[keep])


def _birds(reads: Reads) -> Iterator[tuple[int, int]]:
    if not len(reads.at):
        return
    other = (reads.box[1:] != reads.box[:-1]) | (reads.tag[1:] != reads.tag[:-1])
    edges = np.concatenate([[0], np.flatnonzero(other) + 1, [len(reads.at)]]).tolist()
    yield from pairwise(edges)

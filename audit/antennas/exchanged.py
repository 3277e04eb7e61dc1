"""Boxes whose antennas seem to be exchanged, so that all their passages are mirrored."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from audit.models.box_log import Heard
from audit.models.read_groups import INNER_ONLY, OUTER_ONLY, WAY_IN, WAY_OUT, first_reads, group_reads
from audit.models.reads import Reads
from audit.models.swapped import Swap, SwapLimits, swapped

if TYPE_CHECKING:
    from collections.abc import Collection

    from numpy.typing import NDArray

    from audit.models.health_beliefs import HealthBeliefs

    Ints = NDArray[np.integer]

__all__ = ["find_exchanged"]


def find_exchanged(
    reads: Reads,
    markers: Collection[int],
    gap_s: float,
    limits: tuple[HealthBeliefs, SwapLimits],
    told_from: float,
) -> dict[int, Swap]:
    """Find boxes whose antennas are exchanged.

    Parameters
    ----------
    reads : Reads
        Sorted by box, tag and time.
    markers : collection of int
        Codes of marker tags.
    gap_s : float
        Seconds that part two groups of reads.
    limits : tuple of HealthBeliefs and SwapLimits
    told_from : float
        The least probability that is told.

    Returns
    -------
    dict
        Code of the box -> how sure it is, and why.
    """
    if not len(reads.at):
        return {}
    beliefs, swap_limits = limits
    starts = first_reads(reads)
    long = np.diff(starts, append=len(reads.at))
    kept = (long >= beliefs.reads_least) & ~np.isin(reads.tag[starts], list(markers))
    if not kept.all():
        which = np.repeat(kept, long)
        reads = Reads(reads.box[which], reads.tag[which], reads.at[which], reads.antenna[which])
    groups = group_reads(reads, gap_s, moments=False)
    box, kind = reads.box[groups.begin], groups.kind
    by = np.stack([groups.heard != INNER_ONLY, groups.heard != OUTER_ONLY])
    edges = np.concatenate([[0], np.flatnonzero(np.diff(box)) + 1, [len(box)]])
    visits = _visits(box, reads.tag[groups.begin], groups.start, kind)
    found = {}
    for low, high in pairwise(edges.tolist()):
        mine = slice(low, high)
        if not by[:, mine].any(axis=1).all():
            # one antenna alone tells nothing of which is which
            continue
        tag = reads.tag[groups.begin[mine]]
        heard = Heard(tag, groups.start[mine], groups.stop[mine], by[:, mine], kind[mine])
        if (
            high > low
            and (swap := swapped(heard, swap_limits, visits=visits.get(int(box[low])))).p >= told_from
        ):
            found[int(box[low])] = swap
    return found


def _visits(box: Ints, tag: Ints, start: Ints, kind: Ints) -> dict[int, Counter[int]]:
    """By box and tag: crossings beside reads at another box that are as they must be, less those mirrored."""
    order = np.lexsort((start, tag))
    moved = np.flatnonzero((tag[order][1:] == tag[order][:-1]) & (box[order][1:] != box[order][:-1]))
    found: dict[int, Counter[int]] = {}
    for rows, right in (
        (order[moved + 1], WAY_IN),
        (order[moved], WAY_OUT),
    ):
        for row in rows[np.isin(kind[rows], (WAY_IN, WAY_OUT))].tolist():
            of_box = found.setdefault(int(box[row]), Counter())
            of_box[int(tag[row])] += 1 if kind[row] == right else -1
    return found

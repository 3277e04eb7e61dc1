"""Boxes whose antennas seem to be exchanged, so that all their passages are mirrored."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import numpy as np

from audit.models.box_log import DAY_MS
from audit.models.read_groups import WAY_IN, WAY_OUT
from audit.models.swapped import Swap, SwapLimits, swapped

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from audit.models.box_log import BoxLog

    Ints = NDArray[np.integer]

__all__ = ["find_exchanged"]


_NOBODY: Mapping[int, Mapping[int, int]] = {}


def find_exchanged(
    logs: Sequence[BoxLog],
    limits: SwapLimits,
    told_from: float,
    young: Mapping[int, Mapping[int, int]] = _NOBODY,
) -> dict[int, Swap]:
    """Find boxes whose antennas are exchanged.

    Parameters
    ----------
    logs : sequence of BoxLog
        By box.
    limits : SwapLimits
    told_from : float
        The least probability that is told.
    young : mapping of int to mapping of int to int
        Code of the box -> codes of tags put on its nestlings, with the day, in milliseconds since 1970.

    Returns
    -------
    dict
        Code of the box -> how sure it is, and why.
    """
    visits = _visits(logs)
    found = {}
    for log in logs:
        # one antenna alone tells nothing of which is which
        if log.groups.by.any(axis=1).all():
            known = _still_inside(log, young.get(log.box, {}), limits)
            until = int(log.all_times[-1]) if len(log.all_times) else None
            swap = swapped(log.groups, limits, hatched=known, visits=visits.get(log.box), until=until)
            if swap.p >= told_from:
                found[log.box] = swap
    return found


def _still_inside(log: BoxLog, young: Mapping[int, int], limits: SwapLimits) -> frozenset[int]:
    """Nestlings that cannot have flown before the log of their box began."""
    if not young or not len(log.all_times):
        return frozenset()
    since = int(log.all_times[0]) - limits.hatched_d * DAY_MS
    return frozenset(tag for tag, day in young.items() if day >= since)


def _visits(logs: Sequence[BoxLog]) -> dict[int, Counter[int]]:
    """By box and tag: crossings beside reads at another box that are as they must be, less those mirrored."""
    found: dict[int, Counter[int]] = {}
    travel = _travellers(logs)
    if not len(travel):
        return found
    mine = [np.flatnonzero(np.isin(log.groups.tag, travel)) for log in logs]
    box = np.repeat([log.box for log in logs], [len(one) for one in mine])
    tag, begin, kind = (
        np.concatenate([getattr(log.groups, name)[one] for log, one in zip(logs, mine, strict=True)])
        for name in ("tag", "begin", "kind")
    )
    order = np.lexsort((begin, tag))
    tag, box, kind = tag[order], box[order], kind[order]
    moved = np.flatnonzero((tag[1:] == tag[:-1]) & (box[1:] != box[:-1]))
    for rows, right in ((moved + 1, WAY_IN), (moved, WAY_OUT)):
        for row in rows[np.isin(kind[rows], (WAY_IN, WAY_OUT))].tolist():
            of_box = found.setdefault(int(box[row]), Counter())
            of_box[int(tag[row])] += 1 if kind[row] == right else -1
    return found


def _travellers(logs: Sequence[BoxLog]) -> Ints:
    """Tags that were heard at several boxes."""
    tags = [log.groups.tag[np.diff(log.groups.tag, prepend=log.groups.tag[:1] - 1) != 0] for log in logs]
    every, boxes = np.unique(np.concatenate([np.empty(0, dtype=np.int32), *tags]), return_counts=True)
    found: Ints = every[boxes > 1]
    return found

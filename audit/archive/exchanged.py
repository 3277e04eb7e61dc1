"""Boxes whose antennas seem to be exchanged, so that all their passages are mirrored."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.box_log import box_logs
from audit.models.swapped import Swap, SwapLimits, swapped

if TYPE_CHECKING:
    from collections.abc import Collection

    from audit.models.health_beliefs import HealthBeliefs
    from audit.models.reads import Reads

__all__ = ["find_exchanged"]

_MINUTE_S = 60.0


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
    marks = np.array(sorted(markers), dtype=np.int64)
    logs = box_logs(reads, gap_s, beliefs.bout_min * _MINUTE_S, marks, beliefs.reads_least, None)
    told = {log.box: swapped(log.groups, swap_limits) for log in logs if len(log.groups.tag)}
    return {box: swap for box, swap in told.items() if swap.p >= told_from}

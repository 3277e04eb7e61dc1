"""Boxes that fell silent in the same hours as another: a storm silences several."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from audit.models.box_habits import rates

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.models.box_habits import BoxHabits
    from audit.models.box_log import BoxLog
    from audit.models.health_beliefs import HealthBeliefs

    Flags = NDArray[np.bool_]
    Ints = NDArray[np.int64]

__all__ = ["with_neighbours"]


def with_neighbours(
    logs: Sequence[BoxLog], known: Sequence[BoxHabits], beliefs: HealthBeliefs
) -> list[BoxHabits]:
    """Tell of each silence how many other boxes fell silent in the same hours.

    Parameters
    ----------
    logs : sequence of BoxLog
    known : sequence of BoxHabits
        Of the same boxes.
    beliefs : HealthBeliefs

    Returns
    -------
    list of BoxHabits
        With `neighbours` of their silences; of those in which birds were to be expected.
    """
    spells = [(box, q.silence.start, q.silence.end) for box, one in enumerate(known) for q in one.silent]
    of, start, end = np.array(spells, dtype=np.int64).reshape(-1, 3).T
    asked, silent = np.zeros((2, len(of)), dtype=np.int64)
    for box, (log, one) in enumerate(zip(logs, known, strict=True)):
        beside = np.flatnonzero((of != box) & (log.start <= start) & (log.end >= end))
        if len(beside):
            told, still = _still(log, one, start[beside], end[beside], beliefs)
            asked[beside] += told
            silent[beside] += still
    counts = iter(zip(silent.tolist(), asked.tolist(), strict=True))
    return [
        replace(one, silent=tuple(replace(silence, neighbours=next(counts)) for silence in one.silent))
        for one in known
    ]


def _still(
    log: BoxLog, one: BoxHabits, start: Ints, end: Ints, beliefs: HealthBeliefs
) -> tuple[Flags, Flags]:
    """Tell in which times birds were to be expected at a box, and in which of these it fell silent."""
    before, after = rates(one.habits, start, end, beliefs)
    # near an end of the log one side alone tells what is usual
    both = np.minimum(before.max(axis=1, initial=0.0), after.max(axis=1, initial=0.0)) > 0
    usual = np.where(both[:, None], np.minimum(before, after), np.maximum(before, after)).sum(axis=1)
    low, high = one.habits.share(np.stack([start, end]))
    asked = usual * (high - low) >= beliefs.neighbour_bouts
    begin = np.sort(log.bouts.begin)
    share = one.habits.share(begin)
    # the last birds of the evening before, and the first after it, keep no common time
    first = np.searchsorted(share, low + beliefs.edge_part, side="right")
    last = np.searchsorted(share, high - beliefs.edge_part)
    first = np.maximum(first, np.searchsorted(begin, start, side="right"))
    last = np.minimum(last, np.searchsorted(begin, end))
    heard = np.maximum(last - first, 0)
    return asked, asked & (heard <= beliefs.few * (usual * (high - low - 2 * beliefs.edge_part)))

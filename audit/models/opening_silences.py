"""Whether birds used an entrance while one antenna heard nothing from the start of the log on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.box_log import night_of, of_tag
from audit.models.reads import INNER, OUTER

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.box_log import BoxLog
    from audit.models.health_beliefs import HealthBeliefs
    from audit.models.silence import Silence

    Ints = NDArray[np.int64]

__all__ = ["came_as_usual", "never_worked"]

#: Evidence that nothing else can outweigh.
_A_LOT = 20.0
_SECOND = 1000


def never_worked(log: BoxLog, inside: Ints, beliefs: HealthBeliefs) -> float:
    """Whether an antenna never worked: several birds came to the other one for nights, again and again."""
    heard = log.bouts
    tags, bouts = np.unique(heard.tag[inside], return_counts=True)
    # a chick that rests in the entrance need not have crossed the other antenna
    short = log.stays[inside] < 3 * beliefs.rest_s * _SECOND
    brief = np.bincount(np.searchsorted(tags, heard.tag[inside]), weights=short)
    nights = len(np.unique(night_of(heard.begin[inside])))
    birds = int(((bouts >= beliefs.never_bouts) & (brief > bouts / 2)).sum())
    return beliefs.sure + _A_LOT if birds >= beliefs.never_birds and nights >= beliefs.never_nights else 0.0


def came_as_usual(
    log: BoxLog, side: int, silence: Silence, tag: int, beliefs: HealthBeliefs, *, knew: bool = False
) -> bool:
    """Whether a bird came to the other antenna as often before a silence ended, and both heard it at once.

    A bird that `knew` the way was heard at both before.
    """
    heard = log.bouts
    mine = of_tag(heard, tag)
    other, begin = heard.by[1 - side][mine], heard.begin[mine]
    after = np.flatnonzero(other & (begin >= silence.end))[: beliefs.near]
    before = np.flatnonzero(other & (begin < silence.end))[-beliefs.near :]
    if len(after) < beliefs.near_least or len(before) < beliefs.near_least:
        # nothing more can be asked of a bird that comes once a night; a chick reaches the outer one last
        return knew or (side == INNER and len(after) > 0)
    hit = heard.by[side][mine][after]
    often = _often_beside(night_of(begin[other]), int(night_of(np.array(silence.end))), beliefs.near)
    at_once = hit[: 2 * beliefs.near_least].mean() >= beliefs.at_once * hit.mean()
    # chicks rest behind the entrance before they cross the outer antenna
    rests = side == OUTER and (log.stays[mine][before] > beliefs.rest_s * _SECOND).mean() >= beliefs.alike
    if knew:
        return not rests
    return bool(hit.any() and at_once and not rests and beliefs.alike * max(often) <= min(often))


def _often_beside(nights: Ints, parted: int, near: int) -> list[float]:
    """Bouts of a night before and after one that is parted, which counts only where there is no other."""
    night, count = np.unique(nights, return_counts=True)
    found: list[float] = []
    for beside, all_ in ((night < parted, night <= parted), (night > parted, night >= parted)):
        counts = count[beside if beside.any() else all_]
        counts = counts[::-1] if len(found) == 0 else counts
        # whole nights, till as many bouts as tell of a habit
        enough = 1 + int(np.searchsorted(np.cumsum(counts), near))
        found.append(float(counts[:enough].mean()) if len(counts) else 0.0)
    return found

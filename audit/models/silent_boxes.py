"""Whether a box was empty, or its logger dead, while neither antenna heard anything."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.box_log import night_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.box_log import BoxLog
    from audit.models.deaf_spells import Silence
    from audit.models.health_beliefs import HealthBeliefs

    Ints = NDArray[np.int64]

__all__ = ["evidence_of_birds", "whole_nights"]


def whole_nights(silence: Silence) -> range:
    """Nights, from noon to noon, that lie within a silence as a whole."""
    edges = night_of(np.array([silence.start, silence.end - 1]))
    return range(int(edges[0]) + 1, int(edges[1]))


def evidence_of_birds(log: BoxLog, silence: Silence, beliefs: HealthBeliefs) -> float:
    """Weigh a silence of both antennas by the birds that were heard night after night around it.

    Parameters
    ----------
    log : BoxLog
    silence : Silence
        Of both antennas.
    beliefs : HealthBeliefs

    Returns
    -------
    float
        Natural logarithm of how many times likelier the silence is if the logger was dead.

    Notes
    -----
    Each bird that was regular before and after may have been away, once for all nights; all may have stayed
    where they were for a reason they share, such as a storm, which rarely lasts. One bird alone, or birds not
    heard again, tell little: they may just have gone.
    """
    nights = whole_nights(silence)
    if len(nights) == 0 or silence.opens or silence.closes:
        return 0.0
    heard = np.unique(np.stack([night_of(log.bouts.begin), log.bouts.tag.astype(np.int64)]), axis=1)
    away = 1.0
    for tag in np.unique(heard[1]).tolist():
        of_tag = heard[0][heard[1] == tag]
        before, after = _nights_around(log, nights, beliefs)
        present = [int(np.isin(part, of_tag).sum()) for part in (before, after)]
        asked = [len(before), len(after)]
        if min(asked) < beliefs.around_least:
            return 0.0
        if any(p < beliefs.regular * n for p, n in zip(present, asked, strict=True)):
            continue
        total = sum(asked)
        away *= (total - sum(present) + total * beliefs.away) / (2 * total)
    shared = beliefs.nobody * beliefs.still_nobody ** (len(nights) - 1)
    return float(-np.log(min(1.0, away + shared)))


def _nights_around(log: BoxLog, nights: range, beliefs: HealthBeliefs) -> tuple[Ints, Ints]:
    first, last = night_of(np.array([log.start, log.end - 1])).tolist()
    before = np.arange(max(first, nights[0] - beliefs.around), nights[0])
    after = np.arange(nights[-1] + 1, min(last, nights[-1] + beliefs.around) + 1)
    return before, after

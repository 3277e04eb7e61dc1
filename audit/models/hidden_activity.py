"""Whether birds are active in the hours in which a logger seems to sleep, so that it is no rest of theirs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.box_log import DAY_MS, HOUR_MS
from audit.models.read_groups import WAY_IN, WAY_OUT

if TYPE_CHECKING:
    from audit.models.box_log import BoxLog
    from audit.models.health_beliefs import HealthBeliefs


__all__ = ["hides_activity"]

_BINS = 48
_BIN_MS = DAY_MS // _BINS
_MINUTE_MS = 60_000
#: Pairs of crossings that the share of broken ones is drawn towards, and how many of those are broken.
_PAIRS, _BROKEN = 10.0, 1.0


def hides_activity(log: BoxLog, sleep: tuple[int, int], beliefs: HealthBeliefs) -> bool:
    """Tell whether an empty time of day with a sharp edge cuts across what goes on all around it.

    Parameters
    ----------
    log : BoxLog
    sleep : tuple of int
        Milliseconds after midnight at which it begins and ends, as `audit.models.nightly_sleep` tells it.
    beliefs : HealthBeliefs

    Returns
    -------
    bool

    Notes
    -----
    Birds may begin, or end, at one sharp hour by themselves, and then nothing tells their rest from that of a
    logger. Two things do: birds that have their rest at other hours, and are busy right beside both edges;
    and birds that went in before it and go in again after it, much more often than about any other pause, so
    that they came out meanwhile. Where a marker tag beats nothing of this is asked.
    """
    return _rests_elsewhere(log, sleep, beliefs) or _broken(log, sleep, beliefs) >= beliefs.sleep_hides


def _rests_elsewhere(log: BoxLog, sleep: tuple[int, int], beliefs: HealthBeliefs) -> bool:
    """Whether some other hours are much quieter than those right beside the edges."""
    begin = log.bouts.begin
    start, length = sleep[0], (sleep[1] - sleep[0]) % DAY_MS
    since = (begin - start - length) % DAY_MS
    awake = DAY_MS - length
    wide = beliefs.edge_min * _MINUTE_MS * 2
    beside = min(int((since < wide).sum()), int((since >= awake - wide).sum()))
    least = int(beliefs.sleep_h * HOUR_MS)
    starts = np.arange(wide, awake - wide - least + 1, _BIN_MS)
    if len(starts) == 0:
        return False
    since = np.sort(since)
    quiet = np.diff(np.searchsorted(since, np.stack([starts, starts + least], axis=1)), axis=1).min()
    nights = max(1, len(np.unique((begin - start) // DAY_MS)))
    # an hour of few birds says nothing of rest
    return bool(beside >= nights and quiet / least <= beliefs.few * beside / wide)


def _broken(log: BoxLog, sleep: tuple[int, int], beliefs: HealthBeliefs) -> float:
    """Log likelihood ratio of crossings hidden in the sleep: two the same way, one before and one after.

    Each bird is held against its own pauses at other hours: of a chick that climbs to the entrance and back
    all pairs are the same way.
    """
    groups = log.groups
    crossed = np.flatnonzero((groups.kind == WAY_IN) | (groups.kind == WAY_OUT))
    first, second = crossed[:-1], crossed[1:]
    kept = groups.tag[first] == groups.tag[second]
    kept &= groups.begin[second] - groups.stop[first] > beliefs.bout_min * _MINUTE_MS
    first, second = first[kept], second[kept]
    broken = (groups.kind[first] == groups.kind[second]).astype(np.float64)
    start, length = sleep[0], (sleep[1] - sleep[0]) % DAY_MS
    before, into = np.divmod(groups.stop[first] - start, DAY_MS)
    after, out = np.divmod(groups.begin[second] - start, DAY_MS)
    # a pause over one sleep and no more, and one over none
    across = ((after == before + 1) & (into >= length) & (out >= length)).astype(np.float64)
    beside = (after == before).astype(np.float64)
    tags, row = np.unique(groups.tag[first], return_inverse=True)
    told = np.stack([np.bincount(row, weights=w, minlength=len(tags)) for w in (broken * beside, beside)])
    usual = (told[0].sum() + _BROKEN) / (told[1].sum() + _PAIRS)
    of_bird = (told[0] + _PAIRS * usual) / (told[1] + _PAIRS)
    hidden = beliefs.hidden_crossed * np.maximum(0.5, of_bird) + (1 - beliefs.hidden_crossed) * of_bird
    k, n = (np.bincount(row, weights=w, minlength=len(tags)) for w in (broken * across, across))
    return float((k * np.log(hidden / of_bird) + (n - k) * np.log((1 - hidden) / (1 - of_bird))).sum())

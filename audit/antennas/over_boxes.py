"""What a tag is, told over all boxes of a log: a chunk of boxes sees a part of its reads only."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from audit.antennas.followed import without_repeats
from audit.antennas.markers import find_markers
from audit.models.ghosts import find_ghosts
from audit.models.marker_beats import RARE_LEAST

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from numpy.typing import NDArray

    from audit.antennas.detection_log import DetectionLog
    from audit.models.health_beliefs import HealthBeliefs

    Columns = Mapping[str, NDArray[Any]]

__all__ = ["ends_of", "ghosts_over", "heard_of", "markers_over"]


def heard_of(nights: Columns) -> dict[str, NDArray[Any]]:
    """Tell of each tag at each box what `relations.presence` tells of each night.

    Parameters
    ----------
    nights : mapping of str to numpy.ndarray, shape (n,)
        ``box``, ``tag``, ``reads``, ``first`` and ``last``, sorted by box and tag.

    Returns
    -------
    dict
        The same columns, one row for each tag at each box, as `relations.heard` gives them.
    """
    return _summed(nights, ("box", "tag"))


def ends_of(heard: Columns) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Tell the first and the last moment of each box; `heard` is sorted by box."""
    told = _summed(heard, ("box",))
    return told["first"], told["last"]


def _summed(table: Columns, keys: tuple[str, ...]) -> dict[str, NDArray[Any]]:
    n = len(table["box"])
    other = np.zeros(max(n - 1, 0), dtype=np.bool_)
    for key in keys:
        other |= np.diff(table[key]) != 0
    starts = np.concatenate([np.zeros(min(n, 1), dtype=np.int64), np.flatnonzero(other) + 1])
    joined = {"reads": np.add, "first": np.minimum, "last": np.maximum}
    told = {key: table[key][starts] for key in keys}
    return told | {
        name: ufunc.reduceat(table[name], starts) if n else table[name] for name, ufunc in joined.items()
    }


def markers_over(log: DetectionLog, heard: Columns, beliefs: HealthBeliefs, least_s: float) -> set[int]:
    """Find marker tags among those that were read in several chunks of a log.

    Parameters
    ----------
    log : DetectionLog
    heard : mapping of str to numpy.ndarray
        As `heard_of` gives it.
    beliefs : HealthBeliefs
    least_s : float
        The shortest interval of a marker tag, in seconds.

    Returns
    -------
    set of int
        Codes of tags. Of one that was read in one chunk, that chunk tells as well.
    """
    ranges = log.ranges()
    if len(ranges) < 2:  # noqa: PLR2004 - one chunk is the whole log
        return set()
    firsts = np.array([first for first, _ in ranges])
    chunk = np.searchsorted(firsts, heard["box"], side="right")
    pairs = np.unique(np.stack([heard["tag"], chunk]).astype(np.int64), axis=1)
    tags, times = np.unique(pairs[0], return_counts=True)
    often = np.isin(heard["tag"], tags[times > 1]) & (heard["reads"] >= RARE_LEAST)
    shared = set(np.unique(heard["tag"][often]).tolist())
    found: set[int] = set()
    for boxes in ranges:
        if left := sorted(shared - found):
            found |= find_markers(without_repeats(log.of_tags(left, boxes)), beliefs, least_s)
    return found


def ghosts_over(
    log: DetectionLog,
    heard: Columns,
    gap_s: float,
    reads_most: int,
    times_rarer: float,
    known: Collection[str] = (),
) -> set[int]:
    """Find noise by all reads of a log.

    Parameters
    ----------
    log : DetectionLog
    heard : mapping of str to numpy.ndarray
        As `heard_of` gives it; reads that stand twice count twice there.
    gap_s, reads_most, times_rarer, known
        As in `audit.models.ghosts.find_ghosts`.

    Returns
    -------
    set of int
        Codes of tags.

    Notes
    -----
    Only rare tags are looked at read by read. Those that may be their originals are counted anew, without
    what stands twice; others are never compared with anything.
    """
    tag, box, reads = (heard[name].astype(np.int64) for name in ("tag", "box", "reads"))
    total = np.bincount(tag, reads, len(log.tags))
    # two downloads of one logger, or more, as far as there are files
    rare = np.flatnonzero((total > 0) & (total <= reads_most * (1 + len(log.files))))
    some = without_repeats(log.of_tags(rare.tolist()))
    reads = _counted_anew(tag, box, reads, rare, (some.tag, some.box))
    counted: set[int] = set(rare.tolist())
    while True:
        found = find_ghosts(log.tags, some, gap_s, reads_most, times_rarer, known, heard=(tag, box, reads))
        beside = {*found.slip_of[found.slip_of >= 0].tolist()} - counted
        if not beside:
            return set(np.flatnonzero(found.ghost).tolist())
        new = np.array(sorted(beside))
        again = without_repeats(log.of_tags(new.tolist()))
        reads = _counted_anew(tag, box, reads, new, (again.tag, again.box))
        counted |= beside


def _counted_anew(
    tag: NDArray[np.int64],
    box: NDArray[np.int64],
    reads: NDArray[np.int64],
    which: NDArray[np.int64],
    of: tuple[NDArray[np.int32], NDArray[np.int32]],
) -> NDArray[np.int64]:
    """Count the reads of some tags at each box by the tags and boxes of all their reads."""
    wide = int(box.max(initial=0)) + 1
    mine = np.isin(tag, which)
    key, many = np.unique(of[0].astype(np.int64) * wide + of[1], return_counts=True)
    counted = reads.copy()
    counted[mine] = many[np.searchsorted(key, tag[mine] * wide + box[mine])]
    return counted

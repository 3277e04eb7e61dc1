"""What the two antennas of one box logged, laid out for questions about the antennas themselves."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from audit.models.bouts import together
from audit.models.read_groups import INNER_ONLY, OUTER_ONLY, Groups, group_reads
from audit.models.reads import INNER, OUTER, Reads

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    Flags = NDArray[np.bool_]
    Ints = NDArray[np.int64]

__all__ = ["DAY_MS", "HOUR_MS", "BoxLog", "Heard", "box_logs", "night_of", "of_tag"]

HOUR_MS = 3_600_000
DAY_MS = 24 * HOUR_MS
_SECOND, _MINUTE = 1000, 60_000


@dataclass(frozen=True, slots=True)
class Heard:
    """Reads of birds put together, by tag, then by time.

    Attributes
    ----------
    tag : numpy.ndarray of int32, shape (k,)
        Code of the tag.
    begin, stop : numpy.ndarray of int64, shape (k,)
        Moments of the first and last read, in milliseconds.
    by : numpy.ndarray of bool, shape (2, k)
        Whether the outer and the inner antenna heard it.
    kind : numpy.ndarray of int8, shape (k,)
        Class by the order of the antennas, as in `audit.models.read_groups`.
    """

    tag: NDArray[np.int32]
    begin: Ints
    stop: Ints
    by: Flags
    kind: NDArray[np.int8]

    def some(self, which: Ints) -> Heard:
        """Take what stands at some places."""
        return Heard(
            self.tag[which], self.begin[which], self.stop[which], self.by[:, which], self.kind[which]
        )


@dataclass(frozen=True, slots=True)
class BoxLog:
    """One box.

    Attributes
    ----------
    box : int
        Its code.
    start, end : int
        First and last moment at which its logger is taken to have been there, in milliseconds.
    times : tuple of two numpy.ndarray of int64
        Moments of all reads at the outer and at the inner antenna, in order; noise left out.
    all_times : numpy.ndarray of int64
        Moments of both, in order.
    groups : Heard
        Reads of one crossing, one look, one rest in the entrance.
    bouts : Heard
        Groups of a bird that follow each other within minutes: what it did at the entrance as a whole, so
        that a rest of an hour in which a tag turns away now and then is one piece of evidence.
    stays : numpy.ndarray of int64, shape (k,)
        The longest time in each bout in which the bird was read every minute, in milliseconds: a bird that
        goes and comes again within minutes does not rest.
    beats : tuple of (int, numpy.ndarray of int64)
        For each marker tag at each antenna, the antenna and the moments of its reads, in order.
    """

    box: int
    start: int
    end: int
    times: tuple[Ints, Ints]
    all_times: Ints
    groups: Heard
    bouts: Heard
    stays: Ints
    beats: tuple[tuple[int, Ints], ...]


def box_logs(
    reads: Reads,
    gap: float,
    bout: float,
    markers: Ints,
    reads_least: int,
    span: tuple[int, int] | None,
    reach: float = np.inf,
    birds: tuple[Reads, Groups] | None = None,
) -> Iterator[BoxLog]:
    """Lay out box after box.

    Parameters
    ----------
    reads : Reads
        Sorted by box, tag and time.
    gap : float
        Reads of a bird further apart than so many seconds belong to two groups.
    bout : float
        Reads of a bird further apart than so many seconds belong to two bouts.
    markers : numpy.ndarray of int, shape (m,)
        Codes of marker tags.
    reads_least : int
        Tags with fewer reads at a box are noise.
    span : tuple of int, optional
        When the loggers began and ended, in milliseconds; without it each box from its first read to its
        last.
    reach : float
        A box whose own reads begin, or end, so many milliseconds away from that belongs to another season:
        it goes from its first read, or to its last.
    birds : tuple of Reads and Groups, optional
        The reads without those of marker tags, and the groups that `gap` makes of them, where they are known.

    Yields
    ------
    BoxLog
    """
    edges = np.flatnonzero(np.diff(reads.box, prepend=reads.box[:1] - 1, append=reads.box[-1:] + 1))
    if birds is None:
        some = ~np.isin(reads.tag, markers)
        own = Reads(reads.box[some], reads.tag[some], reads.at[some], reads.antenna[some])
        birds = own, group_reads(own, gap, moments=False)
    own, groups = birds
    ends = np.searchsorted(own.box[groups.begin], reads.box[edges[:-1]], side="right").tolist()
    for (low, high), here in zip(pairwise(edges.tolist()), pairwise([0, *ends]), strict=True):
        of_box = own.tag, Groups(*(getattr(groups, name)[slice(*here)] for name in Groups.__slots__))
        yield _of_box(reads, slice(low, high), of_box, bout, markers, reads_least, (span, reach))


def _of_box(
    reads: Reads,
    rows: slice,
    of_birds: tuple[NDArray[np.int32], Groups],
    bout: float,
    markers: Ints,
    reads_least: int,
    ends: tuple[tuple[int, int] | None, float],
) -> BoxLog:
    box, tag, at, antenna = reads.box[rows], reads.tag[rows], reads.at[rows], reads.antenna[rows]
    edges = np.flatnonzero(np.diff(tag, prepend=tag[:1] - 1, append=tag[-1:] + 1))
    count = np.diff(edges)
    kept = np.repeat(count >= reads_least, count)
    is_marker = np.repeat(np.isin(tag[edges[:-1]], markers), count)
    start, end = int(at.min()), int(at.max()) + 1
    span, reach = ends
    if span is not None:
        start = min(span[0], start) if start - span[0] <= reach else start
        end = max(span[1], end) if span[1] - end <= reach else end
    sure = kept | is_marker
    told = [np.sort(at[sure & (antenna == side)], kind="stable") for side in (OUTER, INNER)]
    beats = [
        (side, at[low:high][antenna[low:high] == side])
        for low, high in pairwise(edges.tolist())
        if is_marker[low]
        for side in (OUTER, INNER)
    ]
    tags, read = of_birds
    read = _often(read, reads_least)
    groups, bouts = _heard(tags, read), _heard(tags, together(read, bout))
    return BoxLog(
        box=int(box[0]),
        start=start,
        end=end,
        times=(told[OUTER], told[INNER]),
        all_times=np.sort(np.concatenate(told), kind="stable"),
        groups=groups,
        bouts=bouts,
        stays=_longest(groups, bout),
        beats=tuple(one for one in beats if len(one[1])),
    )


def _often(groups: Groups, least: int) -> Groups:
    """Leave out tags with fewer reads."""
    first = np.flatnonzero(groups.fresh)
    if not len(first):
        return groups
    count = np.add.reduceat(groups.end - groups.begin, first)
    if (count >= least).all():
        return groups
    keep = np.repeat(count >= least, np.diff(first, append=len(groups.begin)))
    return Groups(*(getattr(groups, name)[keep] for name in Groups.__slots__))


def _heard(tags: NDArray[np.int32], groups: Groups) -> Heard:
    by = np.stack([groups.heard != INNER_ONLY, groups.heard != OUTER_ONLY])
    return Heard(tags[groups.begin], groups.start, groups.stop, by, groups.kind)


def _longest(groups: Heard, bout: float) -> Ints:
    """Longest time in each bout in which its bird was read every minute; groups stand in the same order."""
    if len(groups.tag) == 0:
        return np.zeros(0, dtype=np.int64)
    other = groups.tag[1:] != groups.tag[:-1]
    pause = groups.begin[1:] - groups.stop[:-1]
    runs, bouts = (
        np.flatnonzero(np.concatenate([[True], other | (pause > most)])) for most in (_MINUTE, bout * _SECOND)
    )
    lasts = groups.stop[np.append(runs[1:], len(groups.tag)) - 1] - groups.begin[runs]
    found: Ints = np.maximum.reduceat(lasts, np.searchsorted(runs, bouts))
    return found


def of_tag(heard: Heard, tag: int) -> slice:
    """Where the bouts of a bird stand."""
    # a number of another kind would have all tags made anew
    return slice(*np.searchsorted(heard.tag, np.array([tag, tag + 1], dtype=heard.tag.dtype)).tolist())


def night_of(at: Ints) -> Ints:
    """Tell the night of each moment, from noon to noon, counted from 1970."""
    found: Ints = (at - DAY_MS // 2) // DAY_MS
    return found

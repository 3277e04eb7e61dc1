"""Pauses within a group in which a bird was beyond both antennas: in, and out again a few seconds later."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.read_groups import BOTH, WAY_IN, WAY_OUT, Groups, group_reads
from audit.models.reads import Reads

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_limits import Limits

    Ints = NDArray[np.int64]

__all__ = ["part_pauses"]

_SECOND = 1000
#: So many groups show how long pauses within a crossing are.
_ENOUGH = 100_000


def part_pauses(reads: Reads, groups: Groups, limits: Limits) -> Groups:
    """Part groups at pauses that no crossing has.

    Parameters
    ----------
    reads : Reads
        Sorted by box, tag and time.
    groups : Groups
        Its groups.
    limits : Limits

    Returns
    -------
    Groups

    Notes
    -----
    A bird that looks in is near an antenna all the time, so it is read about as densely as one that crosses;
    one that goes in and comes out again is not read while it is inside. How long pauses within a crossing are
    is seen in groups in which the other antenna follows once: were they exponential, one in ten thousand
    would be four times as long as nine of ten are. A pause at one antenna between two changes of antenna is
    held against the shortest of these bounds, and only the longest of each such stretch; others may also be a
    bird that waits before it crosses. Groups with many pauses are birds that rest and are read now and then,
    and stay whole; so do groups of one antenna, which would tell of a crossing by guess only.
    """
    plain = np.flatnonzero((groups.kind == WAY_IN) | (groups.kind == WAY_OUT))
    plain = plain[groups.changes[plain] == 1][:: max(1, len(plain) // _ENOUGH)]
    place, of = _within(groups, plain)
    pause, same = _pauses(reads, place)
    # most birds that cross make no pause at one antenna, which tells as much as a pause that was made
    still = np.zeros(len(plain), dtype=np.int64)
    np.maximum.at(still, of[same], pause[same])
    moving, made, longest = (_longest(some, limits) for some in (pause[~same], pause[same], still))
    through, resting = min(moving, made, longest), max(made, longest)
    turned = np.flatnonzero((groups.heard == BOTH) & (groups.stop - groups.start > through))
    place, of = _within(groups, turned)
    pause, same = _pauses(reads, place)
    stretch, crossed = _stretches(of, same)
    bound = np.where(crossed, through, np.where(same, resting, moving))
    # between one antenna and the other a bird may be slow
    long = (pause > bound) & (same | (groups.changes[turned] > 1)[of])
    long &= ~crossed | _longest_of(stretch, pause)
    count = np.bincount(of[long], minlength=len(turned))
    cut = place[long & (count <= limits.pauses_most)[of]] + 1
    some = turned[(count > 0) & (count <= limits.pauses_most)]
    return groups if len(some) == 0 else _parted(reads, groups, some, cut)


def _within(groups: Groups, which: Ints) -> tuple[Ints, Ints]:
    """Positions of all reads but the last of some groups, and which group each is of."""
    count = groups.end[which] - groups.begin[which] - 1
    of = np.repeat(np.arange(len(which)), count)
    place = np.arange(len(of)) - (np.cumsum(count) - count)[of] + groups.begin[which][of]
    return place, of


def _pauses(reads: Reads, place: Ints) -> tuple[Ints, NDArray[np.bool_]]:
    """Milliseconds from reads to the next ones, and whether the same antenna read both."""
    return reads.at[place + 1] - reads.at[place], reads.antenna[place + 1] == reads.antenna[place]


def _longest(pause: Ints, limits: Limits) -> float:
    usual = float(np.quantile(pause, limits.pause_share)) if len(pause) else 0.0
    return max(limits.pause_times * usual, limits.pause_least_s * _SECOND)


def _parted(reads: Reads, groups: Groups, some: Ints, cut: Ints) -> Groups:
    """Put reads of some groups together anew, parted at some positions."""
    count = groups.end[some] - groups.begin[some]
    place = np.repeat(groups.begin[some] - (np.cumsum(count) - count), count) + np.arange(count.sum())
    fresh = np.isin(place, groups.begin[some])
    part = np.cumsum(fresh | np.isin(place, cut)).astype(np.int32)
    made = group_reads(
        Reads(np.zeros(len(place), dtype=np.int32), part, reads.at[place], reads.antenna[place]), np.inf
    )
    first = np.isin(place[made.begin], groups.begin[some[groups.fresh[some]]])
    whole = np.ones(len(groups.begin), dtype=np.bool_)
    whole[some] = False
    columns = {}
    for name in Groups.__slots__:
        new = getattr(made, name)
        if name == "begin":
            new = place[made.begin]
        elif name == "end":
            new = place[made.end - 1] + 1
        elif name == "fresh":
            new = first
        columns[name] = np.concatenate([getattr(groups, name)[whole], new])
    order = np.argsort(columns["begin"], kind="stable")
    return Groups(**{name: column[order] for name, column in columns.items()})


def _stretches(of: Ints, same: NDArray[np.bool_]) -> tuple[Ints, NDArray[np.bool_]]:
    """Give stretches of one antenna a number, and say which lie between two changes of antenna."""
    moved = np.cumsum(~same)
    fresh = np.ones(len(of), dtype=np.bool_)
    fresh[1:] = of[1:] != of[:-1]
    since = np.maximum.accumulate(np.where(fresh, moved - ~same, 0))
    total = np.bincount(of, weights=~same) if len(of) else np.empty(0)
    crossed = same & (moved > since) & (moved - since < total[of])
    return np.cumsum(~same | fresh), crossed


def _longest_of(stretch: Ints, pause: Ints) -> NDArray[np.bool_]:
    """Mark the longest pause of each stretch: a bird was beyond the antennas once in it, if at all."""
    order = np.lexsort((pause, stretch))
    last = np.ones(len(order), dtype=np.bool_)
    last[:-1] = stretch[order][1:] != stretch[order][:-1]
    found = np.zeros(len(order), dtype=np.bool_)
    found[order[last]] = True
    return found

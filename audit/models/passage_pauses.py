"""Pauses within a group in which a bird may have been beyond both antennas: in, and out again in seconds."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.read_groups import WAY_IN, WAY_OUT, Groups, group_reads
from audit.models.reads import Reads

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_limits import Limits

    Ints = NDArray[np.int64]

__all__ = ["part_pauses"]

_SECOND = 1000


def part_pauses(
    reads: Reads, groups: Groups, limits: Limits, rest: float | None = None, shared: float = 0.0
) -> Groups:
    """Part groups at pauses in which a bird may have been inside, or outside.

    Parameters
    ----------
    reads : Reads
        Sorted by box, tag and time.
    groups : Groups
        Its groups.
    limits : Limits
    rest : float, optional
        Longest pause, in seconds, of a bird that stays at one antenna, where its logger waits before it
        stores a tag again.
    shared : float
        Seconds for which no antenna stores a tag that any of them stored.

    Returns
    -------
    Groups

    Notes
    -----
    Whether the bird was away meanwhile, or lingered at the entrance, is weighed later; so every pause at one
    antenna is one, if it is the longest between two changes of antenna: the bird was beyond the antennas once
    in it, if at all. Between one antenna and the other a bird may be slow. How slow is seen in groups where
    the other antenna follows once: were these pauses exponential, one in ten thousand would be four times as
    long as nine of ten are. A logger that waits stores less of short stays, so that many of them look like a
    slow crossing, and three of four are asked.
    """
    plain = np.flatnonzero((groups.kind == WAY_IN) | (groups.kind == WAY_OUT))
    plain = plain[groups.changes[plain] == 1][:: max(1, len(plain) // limits.pause_enough)]
    pause, same = _pauses(reads, _within(groups, plain)[0])
    least = (limits.pause_least_s if rest is None else rest) * _SECOND
    share = limits.pause_share if rest is None or rest <= limits.pause_least_s else limits.pause_share_held
    usual = float(np.quantile(pause[~same], share)) if (~same).any() else 0.0
    moving = max(limits.pause_times * usual, limits.pause_least_s * _SECOND)
    if shared:
        # it is stored at the second antenna as soon as may be, or not at all
        moving = (shared + limits.pause_least_s) * _SECOND
    turned = np.flatnonzero(groups.stop - groups.start > min(least, moving))
    place, of = _within(groups, turned)
    pause, same = _pauses(reads, place)
    long = (pause > np.where(same, least, moving)) & (same | (groups.changes[turned] > 1)[of] | (shared > 0))
    long &= ~same | _longest_of(_stretches(of, same), pause)
    count = np.bincount(of[long], minlength=len(turned))
    cut = place[long] + 1
    some = turned[count > 0]
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


def _stretches(of: Ints, same: NDArray[np.bool_]) -> Ints:
    """Give stretches of one antenna a number."""
    fresh = np.ones(len(of), dtype=np.bool_)
    fresh[1:] = of[1:] != of[:-1]
    found: Ints = np.cumsum(~same | fresh)
    return found


def _longest_of(stretch: Ints, pause: Ints) -> NDArray[np.bool_]:
    """Mark the longest pause of each stretch: a bird was beyond the antennas once in it, if at all."""
    order = np.lexsort((pause, stretch))
    last = np.ones(len(order), dtype=np.bool_)
    last[:-1] = stretch[order][1:] != stretch[order][:-1]
    found = np.zeros(len(order), dtype=np.bool_)
    found[order[last]] = True
    return found

"""Antennas exchanged: what is called the outer one is the inner one, and all passages are mirrored."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from audit.models.box_log import DAY_MS, night_of
from audit.models.feeding_stays import feeds
from audit.models.last_crossings import last_crossings, turn_share
from audit.models.read_groups import WAY_IN, WAY_OUT
from audit.models.reads import INNER, OUTER

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from audit.models.box_log import Heard

    Ints = NDArray[np.int64]

__all__ = ["Swap", "SwapLimits", "swapped"]


@dataclass(frozen=True, slots=True)
class SwapLimits:
    """Numbers by which exchanged antennas are told; those of ``antennas.swapped`` under the same names.

    Attributes
    ----------
    before : float
        Share of boxes whose antennas are exchanged.
    chick_first_inner : float
        Share of young birds that are heard at the inner antenna first.
    chick_alone : float
        Share of birds heard at one antenna alone for days at first that were so at the inner one.
    chick_first_out : float
        Share of young birds whose first crossing told is outwards.
    only_one_d : float
        A bird heard at one antenna alone for so many days before it is heard at the other has hatched there.
    hatched_d : float
        A nestling does not fly within so many days of its tagging.
    visitor_in_first : float
        Share of visits of a bird that comes from another box, or goes to one, whose first crossing told is
        inwards, or the last outwards.
    visits_most : int
        So many visits of one bird count.
    feeds_inside : float
        Share of birds that seem to feed that do so inside.
    feeds_least, feeds_a_night, feeds_nights : int, float, int
        A bird that feeds does so this often in all, in a night of the mean, and in so many nights.
    hands_over_s : float
        It stays inside for less than this, at the median, in seconds.
    hunts_times : float
        It is out for so many times as long.
    trip_most_h : float
        Longer whiles between two crossings are no trip, in hours.
    gone_d : float
        A bird that was not heard for so many days at the end of the log left for good.
    gone_out : float
        Share of nights in which birds left for good in which what they crossed last is told as outwards,
        where no crossing is missed.
    """

    before: float
    chick_first_inner: float
    chick_alone: float
    chick_first_out: float
    only_one_d: float
    hatched_d: float
    visitor_in_first: float
    visits_most: int
    feeds_inside: float
    feeds_least: int
    feeds_a_night: float
    feeds_nights: int
    hands_over_s: float
    hunts_times: float
    trip_most_h: float
    gone_d: float
    gone_out: float


@dataclass(frozen=True, slots=True)
class Swap:
    """Whether the antennas of a box are exchanged.

    Attributes
    ----------
    p : float
        Probability that they are.
    young, young_mirrored : int
        Young birds that tell, and those of them that were first heard as if they came from outside.
    visitors, visitors_mirrored : int
        Birds that came from other boxes, or went there, and those of them that seemed to leave as they came.
    feeders, feeders_mirrored : int
        Birds that feed, and those of them that seem to do so outside.
    gone, gone_mirrored : int
        Nights in which birds left for good, and those of them in which they seemed to go in last.
    """

    p: float
    young: int
    young_mirrored: int
    visitors: int = 0
    visitors_mirrored: int = 0
    feeders: int = 0
    feeders_mirrored: int = 0
    gone: int = 0
    gone_mirrored: int = 0

    @property
    def sentence(self) -> str:
        """What is seen, for a person."""
        told = []
        if self.young:
            told.append(
                f"{self.young_mirrored} of {self.young} young birds were first heard as from outside."
            )
        if self.visitors:
            told.append(
                f"{self.visitors_mirrored} of {self.visitors} birds on visit from other boxes were heard "
                "going out as they came, or in as they left."
            )
        if self.feeders:
            told.append(
                f"{self.feeders_mirrored} of {self.feeders} birds that bring prey were heard out for "
                "moments, and in for as long as a hunt takes."
            )
        if self.gone:
            told.append(
                f"In {self.gone_mirrored} of {self.gone} nights in which birds left for good, these were "
                "last heard going in."
            )
        return " ".join(told) or "No bird tells which antenna is the inner one."


def swapped(
    groups: Heard,
    limits: SwapLimits,
    *,
    hatched: frozenset[int] = frozenset(),
    visits: Mapping[int, int] | None = None,
    until: int | None = None,
) -> Swap:
    """Tell whether the antennas of one box are exchanged.

    Parameters
    ----------
    groups : Heard
        Groups of the birds of a box, by tag, then by time.
    limits : SwapLimits
    hatched : frozenset of int
        Codes of tags put on nestlings of this box, as far as known.
    visits : mapping of int to int, optional
        By tag, visits from and to other boxes whose crossings are as they must be, less those that are
        mirrored.
    until : int, optional
        When the logger of the box read anything for the last time, in milliseconds; without it nothing is
        told by birds that left for good.

    Returns
    -------
    Swap

    Notes
    -----
    That crossings in and out take turns says nothing here, for it holds in a mirror, too; nor do the nights
    of grown birds, for whether these begin by going in or out depends on where a bird rests by day. What is
    left are young birds, birds on visit, birds that bring prey, and birds that left for good. A nestling is
    inside when it is tagged: it is heard at the inner antenna for days before it ever leaves, and leaves
    before it comes in. Days count in which the other antenna heard somebody, for beside an antenna that
    sleeps every bird is heard at one alone. A bird heard at another box is not in this one, so it comes in
    first and goes out last. A bird that brings prey stays inside for moments (`audit.models.feeding_stays`);
    one alone is never enough to tell, for birds differ. A bird that left for good went out last, as surely as
    crossings take turns there (`audit.models.last_crossings`).

    So a box with a brood that came to the entrance late, without any bird on visit, with one parent, and that
    no bird left before its log ended, is never told of, exchanged or not.
    """
    told = np.log(limits.before / (1 - limits.before))
    young = mirrored = feeders = outside = 0
    awake = [_nights(groups.begin[by]) for by in groups.by]
    edges = np.flatnonzero(np.diff(groups.tag, prepend=groups.tag[:1] - 1, append=groups.tag[-1:] + 1))
    for low, high in pairwise(edges.tolist()):
        mine = slice(low, high)
        side_of_prey = feeds(groups, mine, limits)
        feeders += side_of_prey != 0
        outside += side_of_prey < 0
        told -= side_of_prey * np.log(limits.feeds_inside / (1 - limits.feeds_inside))
        side = _alone_at(groups, mine, awake, limits.only_one_d)
        if int(groups.tag[low]) not in hatched and side < 0:
            continue
        crossed = groups.kind[mine][np.isin(groups.kind[mine], (WAY_IN, WAY_OUT))]
        share = limits.chick_alone
        if side < 0 and groups.by[:, low].sum() == 1:
            side, share = int(groups.by[1, low]), limits.chick_first_inner
        votes = []
        if side >= 0:
            votes.append((1 if side == 0 else -1) * np.log(share / (1 - share)))
        if len(crossed):
            share = limits.chick_first_out
            votes.append((1 if crossed[0] == WAY_IN else -1) * np.log(share / (1 - share)))
        # both tell of one fact
        vote = max(votes, key=abs) if votes and (min(votes) > 0 or max(votes) < 0) else 0.0
        young += bool(vote)
        mirrored += vote > 0
        told += vote
    seen = np.clip(list((visits or {}).values()), -limits.visits_most, limits.visits_most)
    told -= float(seen.sum()) * np.log(limits.visitor_in_first / (1 - limits.visitor_in_first))
    ways = [] if until is None else last_crossings(groups, until, limits, visits or ())
    gone, gone_in = sum(way != 0 for way in ways), sum(way < 0 for way in ways)
    share = max(1 / 2, min(limits.gone_out, turn_share(groups)))
    told -= sum(ways) * np.log(share / (1 - share))
    visitors = int((seen != 0).sum()), int((seen < 0).sum())
    return Swap(
        float(1 / (1 + np.exp(-told))), young, int(mirrored), *visitors, feeders, outside, gone, gone_in
    )


def _nights(at: Ints) -> Ints:
    """Tell in which nights moments lie that mostly follow each other."""
    night = night_of(at)
    found: Ints = np.unique(night[np.diff(night, prepend=night[:1] - 1) != 0])
    return found


def _alone_at(groups: Heard, mine: slice, awake: Sequence[Ints], least_d: float) -> int:
    """Return the antenna at which a bird was heard alone for days while the other was awake, or -1."""
    by, begin = groups.by[:, mine], groups.begin[mine]
    for side in (OUTER, INNER):
        other = np.flatnonzero(by[1 - side])
        alone = begin[: other[0]] if len(other) else begin
        if not len(alone):
            continue
        nights = np.intersect1d(night_of(alone), awake[1 - side])
        until = begin[other[0]] if len(other) else begin[-1]
        if until - begin[0] >= least_d * DAY_MS and len(nights) >= least_d:
            return side
    return -1

"""Antennas exchanged: what is called the outer one is the inner one, and all passages are mirrored."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from audit.models.read_groups import WAY_IN, WAY_OUT

if TYPE_CHECKING:
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
    chick_first_out : float
        Share of young birds whose first crossing told is outwards.
    roosts : float
        Share of birds that rest in the box by day, so that their nights begin with a crossing outwards, or do
        the reverse night after night.
    only_one_d : float
        A bird heard at one antenna alone for so many days before it is heard at the other has hatched there.
    nights_least : int
        Nights that tell a habit.
    """

    before: float
    chick_first_inner: float
    chick_first_out: float
    roosts: float
    only_one_d: float
    nights_least: int


@dataclass(frozen=True, slots=True)
class Swap:
    """Whether the antennas of a box are exchanged.

    Attributes
    ----------
    p : float
        Probability that they are.
    young, young_mirrored : int
        Young birds that tell, and those of them that were first heard as if they came from outside.
    adults, adults_mirrored : int
        Other birds with a habit, and those whose nights usually begin with a crossing inwards.
    """

    p: float
    young: int
    young_mirrored: int
    adults: int
    adults_mirrored: int

    @property
    def sentence(self) -> str:
        """What is seen, for a person."""
        parts = []
        if self.young:
            parts.append(
                f"{self.young_mirrored} of {self.young} young birds were first heard as from outside"
            )
        if self.adults:
            parts.append(
                f"{self.adults_mirrored} of {self.adults} other birds began their nights by going in"
            )
        return "; ".join(parts) + "." if parts else "No bird tells which antenna is the inner one."


def swapped(groups: Heard, limits: SwapLimits, *, hatched: frozenset[int] = frozenset()) -> Swap:
    """Tell whether the antennas of one box are exchanged.

    Parameters
    ----------
    groups : Heard
        Groups of the birds of a box, by tag, then by time.
    limits : SwapLimits
    hatched : frozenset of int
        Codes of tags put on nestlings of this box, as far as known.

    Returns
    -------
    Swap

    Notes
    -----
    That crossings in and out take turns says nothing here, for it holds in a mirror, too. A nestling is
    inside when it is tagged: it is heard at the inner antenna before it ever leaves, and leaves before it
    comes in. A bird that rests in the box by day begins its nights by going out; this habit is of the bird,
    so each bird counts once, and weakly, for some rest elsewhere.
    """
    told = np.log(limits.before / (1 - limits.before))
    count = [0, 0, 0, 0]
    edges = np.flatnonzero(np.diff(groups.tag, prepend=groups.tag[:1] - 1, append=groups.tag[-1:] + 1))
    for low, high in pairwise(edges.tolist()):
        mine = slice(low, high)
        side, night_in, nights = _of_bird(groups, mine, limits)
        crossed = groups.kind[mine][np.isin(groups.kind[mine], (WAY_IN, WAY_OUT))]
        young = int(groups.tag[low]) in hatched or side >= 0
        if young:
            alone = groups.by[:, low].sum() == 1
            first = side if side >= 0 or not alone else int(groups.by[1, low])
            votes = []
            if first >= 0:
                share = limits.chick_first_inner
                votes.append((1 if first == 0 else -1) * np.log(share / (1 - share)))
            if len(crossed):
                share = limits.chick_first_out
                votes.append((1 if crossed[0] == WAY_IN else -1) * np.log(share / (1 - share)))
            # both tell of one fact
            vote = max(votes, key=abs) if votes and (min(votes) > 0 or max(votes) < 0) else 0.0
            count[0] += bool(vote)
            count[1] += vote > 0
        else:
            if nights < limits.nights_least:
                continue
            share = limits.roosts
            vote = (2 * night_in / nights - 1) * np.log(share / (1 - share))
            count[2] += 1
            count[3] += vote > 0
        told += vote
    return Swap(float(1 / (1 + np.exp(-told))), *(int(one) for one in count))


def _of_bird(groups: Heard, mine: slice, limits: SwapLimits) -> tuple[int, int, int]:
    """Return the antenna at which a bird was alone for days, or -1; nights begun inwards; nights."""
    from audit.models.box_log import DAY_MS, night_of

    by, begin, kind = groups.by[:, mine], groups.begin[mine], groups.kind[mine]
    side = -1
    for one in (0, 1):
        other = np.flatnonzero(by[1 - one])
        until = begin[other[0]] if len(other) else begin[-1]
        if by[one, 0] and not by[1 - one, 0] and until - begin[0] >= limits.only_one_d * DAY_MS:
            side = one
    way = np.flatnonzero((kind == WAY_IN) | (kind == WAY_OUT))
    night = night_of(begin[way])
    firsts = way[np.flatnonzero(np.diff(night, prepend=night[:1] - 1))]
    return side, int((kind[firsts] == WAY_IN).sum()), len(firsts)

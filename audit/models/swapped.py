"""Antennas exchanged: what is called the outer one is the inner one, and all passages are mirrored."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from audit.models.box_log import DAY_MS, night_of
from audit.models.read_groups import WAY_IN, WAY_OUT
from audit.models.reads import INNER, OUTER

if TYPE_CHECKING:
    from collections.abc import Sequence

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
    only_one_d : float
        A bird heard at one antenna alone for so many days before it is heard at the other has hatched there.
    """

    before: float
    chick_first_inner: float
    chick_first_out: float
    only_one_d: float


@dataclass(frozen=True, slots=True)
class Swap:
    """Whether the antennas of a box are exchanged.

    Attributes
    ----------
    p : float
        Probability that they are.
    young, young_mirrored : int
        Young birds that tell, and those of them that were first heard as if they came from outside.
    """

    p: float
    young: int
    young_mirrored: int

    @property
    def sentence(self) -> str:
        """What is seen, for a person."""
        if not self.young:
            return "No bird tells which antenna is the inner one."
        return f"{self.young_mirrored} of {self.young} young birds were first heard as from outside."


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
    That crossings in and out take turns says nothing here, for it holds in a mirror, too; nor do the nights
    of grown birds, for whether these begin by going in or out depends on where a bird rests by day. What is
    left are young birds. A nestling is inside when it is tagged: it is heard at the inner antenna for days
    before it ever leaves, and leaves before it comes in. Days count in which the other antenna heard
    somebody, for beside an antenna that sleeps every bird is heard at one alone.

    So a box is told of only where several young birds came to the entrance for days without ever reaching
    the outer antenna while both were awake. A box without a brood, one whose log begins after the first
    flights, and one whose nestlings were read at both antennas from the start are never told of, exchanged
    or not.
    """
    told = np.log(limits.before / (1 - limits.before))
    young = mirrored = 0
    awake = [np.unique(night_of(groups.begin[by])) for by in groups.by]
    edges = np.flatnonzero(np.diff(groups.tag, prepend=groups.tag[:1] - 1, append=groups.tag[-1:] + 1))
    for low, high in pairwise(edges.tolist()):
        mine = slice(low, high)
        side = _alone_at(groups, mine, awake, limits.only_one_d)
        if int(groups.tag[low]) not in hatched and side < 0:
            continue
        crossed = groups.kind[mine][np.isin(groups.kind[mine], (WAY_IN, WAY_OUT))]
        if side < 0 and groups.by[:, low].sum() == 1:
            side = int(groups.by[1, low])
        votes = []
        if side >= 0:
            share = limits.chick_first_inner
            votes.append((1 if side == 0 else -1) * np.log(share / (1 - share)))
        if len(crossed):
            share = limits.chick_first_out
            votes.append((1 if crossed[0] == WAY_IN else -1) * np.log(share / (1 - share)))
        # both tell of one fact
        vote = max(votes, key=abs) if votes and (min(votes) > 0 or max(votes) < 0) else 0.0
        young += bool(vote)
        mirrored += vote > 0
        told += vote
    return Swap(float(1 / (1 + np.exp(-told))), young, int(mirrored))


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

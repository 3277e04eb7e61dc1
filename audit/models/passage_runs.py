"""Groups of reads that follow each other so soon that the bird may have been at the entrance all the time."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["Lingering", "RunBeliefs", "Runs", "runs_of"]


@dataclass(frozen=True, slots=True)
class Runs:
    """Groups of one bird that follow each other so soon that it may have been at the entrance all the time.

    Attributes
    ----------
    start : numpy.ndarray of int, shape (r,)
        First group of each run, in order.
    run : numpy.ndarray of int, shape (n,)
        Run of each group.
    steps : list of slice
        Where first groups of the runs of several stand in `lanes`, second ones, and so on; longer runs stand
        before.
    lanes : numpy.ndarray of int, shape (l,)
        Groups of the runs of several, step by step.
    many : numpy.ndarray of int
        Runs of several groups, in the order of the first of `steps`.
    """

    start: Ints
    run: Ints
    steps: list[slice]
    lanes: Ints
    many: Ints


def runs_of(joined: Flags, most: int) -> Runs:
    """Lay out runs of groups.

    Parameters
    ----------
    joined : numpy.ndarray of bool, shape (n,)
        Whether a group may go on with what the bird did in the one before.
    most : int
        Longer runs are parted.
    """
    start = np.flatnonzero(~joined)
    place = np.arange(len(joined)) - start[np.cumsum(~joined) - 1]
    joined = joined & (place % most > 0)
    start = np.flatnonzero(~joined)
    run = np.cumsum(~joined) - 1
    count = np.diff(np.append(start, len(joined)))
    many = np.flatnonzero(count > 1)
    many = many[np.argsort(-count[many], kind="stable")]
    count = count[many]
    first = start[many]
    longest = int(count[0]) if len(count) else 0
    # runs with more than so many groups come first
    wide = np.searchsorted(-count, -np.arange(longest), side="left")
    lanes = np.concatenate([first[:0], *(first[: wide[j]] + j for j in range(longest))])
    ends = np.cumsum(wide).tolist()
    return Runs(start, run, [slice(*edges) for edges in pairwise([0, *ends])], lanes, many)


@dataclass(frozen=True, slots=True)
class Lingering:
    """Weights of birds that stay at the entrance over several groups, in some manners, lane by lane.

    Attributes
    ----------
    begun : numpy.ndarray, shape (2, k, l)
        That a bird begins to linger and is seen like this, by the state and the manner.
    seen : numpy.ndarray, shape (2, k, l)
        That one that lingers already is seen like this.
    across : numpy.ndarray, shape (k, l)
        That it lingers on over the time since the group before.
    passes : numpy.ndarray, shape (2, l)
        That a bird is seen like this that passes from the state.
    after : numpy.ndarray, shape (k, 3)
        Chances that at a group after the first the bird goes on, leaves or passes.
    """

    begun: Floats
    seen: Floats
    across: Floats
    passes: Floats
    after: Floats

    @property
    def goes_on(self) -> Floats:
        """Chance that it goes on, shape (k, 1)."""
        found: Floats = self.after[:, :1]
        return found

    @property
    def ends(self) -> Floats:
        """Chance that it leaves, shape (k, 1)."""
        found: Floats = self.after[:, 1:2]
        return found

    @property
    def crosses(self) -> Floats:
        """Chance that it passes, shape (k, 1)."""
        found: Floats = self.after[:, 2:]
        return found


@dataclass(frozen=True, slots=True)
class RunBeliefs:
    """What whole chains say about each group; of birds that linger, about each lane of `Runs`.

    Attributes
    ----------
    before, within : numpy.ndarray, shape (2, 2, n)
        As in `Beliefs`, of birds that do not linger there.
    lingers, begins : numpy.ndarray, shape (2, k, l)
        Probability that the group is part of lingering in this state, and that it begins there.
    across : numpy.ndarray, shape (k, l)
        Probability that a bird lingered from the group before to this one.
    crosses : numpy.ndarray, shape (2, k, l)
        Probability that one that lingered in this state passes there.
    predicted, behind : numpy.ndarray
        As in `Beliefs`; `predicted` is summed over each chain only.
    """

    before: Floats
    within: Floats
    lingers: Floats
    begins: Floats
    across: Floats
    crosses: Floats
    predicted: Floats
    behind: Floats

    @property
    def log_likelihood(self) -> float:
        """Natural logarithm of the likelihood of all chains."""
        return float(self.predicted.sum())

"""Crossings that no antenna heard beside groups of reads: who came for a moment left, too."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.passage_places import ends, place
from audit.models.passage_waits import WAITS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_chains import Chains
    from audit.models.passage_limits import Limits
    from audit.models.passage_waits import Waits

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["Missed", "beside", "missed_before"]

_SECOND = 1000
_PLACED_AT_ONCE = 20_000


@dataclass(frozen=True, slots=True)
class Missed:
    """Crossings from one state that no antenna heard, one in front of each group.

    Attributes
    ----------
    state : int
        State of the bird before them: 0 outside, 1 inside.
    p : numpy.ndarray, shape (n,)
        Probability that there was one.
    young : numpy.ndarray of bool, shape (n,)
        Whether the bird sat in the nest before it flew.
    at : numpy.ndarray of int, shape (n,)
        The moment at which it is best placed, in milliseconds since 1970; 0 where it is not likely enough.
    sure : numpy.ndarray, shape (n,)
        Probability that it was within `limits.within_s` of that moment.
    """

    state: int
    p: Floats
    young: Flags
    at: Ints
    sure: Floats


def missed_before(
    chains: Chains, waits: Waits, state: int, told: tuple[Floats, Flags], limits: Limits
) -> Missed:
    """Place crossings that were probably missed in front of groups.

    Parameters
    ----------
    chains : Chains
    waits : Waits
    state : int
        As in `Missed`.
    told : tuple of numpy.ndarray
        Probability of one in front of each group, shape (n,), and birds that sat in the nest, shape (birds,).
    limits : Limits
    """
    p, young = told[0], told[1][chains.bird]
    at, sure = np.zeros(len(p), dtype=np.int64), np.zeros(len(p))
    some = np.flatnonzero(p >= limits.report_from)
    for low in range(0, len(some), _PLACED_AT_ONCE):
        one = some[low : low + _PLACED_AT_ONCE]
        states = np.full(len(one), state, dtype=np.int64)
        moment, close = place(waits, states, chains.wait[one], limits.within_s, young[one])
        at[one] = chains.groups.stop[one - 1] + np.round(moment * _SECOND).astype(np.int64)
        sure[one] = p[one] * close
    return Missed(state, p, young, at, sure)


def beside(
    chains: Chains, waits: Waits, missed: Missed, shown: tuple[Floats, Ints], limits: Limits
) -> tuple[Floats, Ints, Flags]:
    """Tell crossings one way at groups or beside them.

    Parameters
    ----------
    chains : Chains
    waits : Waits
    missed : Missed
        Crossings this way that no antenna heard.
    shown : tuple of numpy.ndarray, shape (n,)
        Probability that the bird crossed this way at the group, and when it did, in milliseconds.
    limits : Limits

    Returns
    -------
    p : numpy.ndarray, shape (n,)
        Probability of a crossing within `limits.within_s` of `at`.
    at : numpy.ndarray of int, shape (n,)
        Milliseconds since 1970.
    alone : numpy.ndarray of bool, shape (n,)
        Whether the one missed in front of the group is told by itself, at its own moment.

    Notes
    -----
    A read shows that a bird came or that it left; if it stays for a moment it did both, whichever was heard.
    That it crossed at a group, and that one such crossing was missed right before or behind it, exclude each
    other, so their probabilities add up. Each missed crossing counts at one place only, where most is made of
    it. The moment told is put off from the group as far as this gains enough.
    """
    passed, plain = shown
    p, at, alone = passed.copy(), plain.copy(), np.zeros(len(passed), dtype=np.bool_)
    some = np.flatnonzero(missed.p >= limits.beside_least)
    if len(some) == 0:
        return p, at, alone
    groups, k = chains.groups, np.arange(len(some))
    off = np.array(limits.beside_off_s)
    kinds, row = np.unique(chains.bins[some] + WAITS * missed.young[some], return_inverse=True)
    tables = ends(waits, missed.state, kinds, int(limits.within_s + off.max()))
    sides = []
    # the bird crossed behind the group before, or in front of this one
    for table, group, from_edge in (
        (tables[0], some - 1, plain[some - 1] - groups.stop[some - 1]),
        (tables[1], some, groups.start[some] - plain[some]),
    ):
        reach = limits.within_s + off[:, None] + from_edge / _SECOND
        column = np.clip(np.floor(reach) + 1, 0, table.shape[1] - 1).astype(np.int64)
        gain = missed.p[some] * table[row, column]
        best = (gain - limits.beside_gain * off[:, None]).argmax(axis=0)
        sides.append((group, gain[best, k], off[best]))
    whole = [passed[group] + gain for group, gain, _ in sides]
    by_itself = missed.sure[some] > np.maximum(*whole)
    behind = ~by_itself & (whole[0] > whole[1])
    for (group, gain, moved), here, way in zip(sides, (behind, ~by_itself & ~behind), (1, -1), strict=True):
        # every group has one wait before it and one behind it, so none is twice in one of them
        p[group[here]] += gain[here]
        at[group[here]] += np.round(way * moved[here] * _SECOND).astype(np.int64)
    alone[some[by_itself]] = True
    return np.minimum(p, 1.0), at, alone

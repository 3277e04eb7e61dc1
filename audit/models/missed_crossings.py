"""How well each antenna hears, by crossings that were missed: a bird that went in twice came out between."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.read_groups import INNER_ONLY, OUTER_ONLY, WAY_IN, WAY_OUT

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.box_log import Heard
    from audit.models.health_beliefs import HealthBeliefs

    Flags = NDArray[np.bool_]
    Ints = NDArray[np.int64]

__all__ = ["Pairs", "Turns", "efficiencies", "pairs_of", "resting"]

_SECOND = 1000


@dataclass(frozen=True, slots=True)
class Turns:
    """What lies between crossings told by both antennas, of one bird each, one after the other.

    Attributes
    ----------
    taken, missed : int
        Pairs of crossings in turn (in and out, or out and in), and of two the same way, between which one at
        least was missed.
    outer_taken, outer_missed, inner_taken, inner_missed : int
        Groups that the outer antenna alone heard, and that the inner alone heard, between such crossings.
    """

    taken: int
    missed: int
    outer_taken: int
    outer_missed: int
    inner_taken: int
    inner_missed: int


@dataclass(frozen=True, slots=True)
class Pairs:
    """Crossings of one bird told by both antennas, one after the other, of which nothing between is open.

    Attributes
    ----------
    first, second : numpy.ndarray of int64, shape (n,)
        Moments at which they begin, in milliseconds.
    missed : numpy.ndarray of bool, shape (n,)
        Whether both go the same way, so that one at least was missed between.
    outer, inner : numpy.ndarray of int, shape (n,)
        Groups between that the one antenna alone heard.
    """

    first: Ints
    second: Ints
    missed: Flags
    outer: Ints
    inner: Ints

    def turns(self, within: Flags | None = None) -> Turns:
        """Count them, or some of them."""
        ways = ~self.missed, self.missed
        if within is not None:
            ways = ways[0] & within, ways[1] & within
        return Turns(
            int(ways[0].sum()),
            int(ways[1].sum()),
            *(int(count[way].sum()) for count in (self.outer, self.inner) for way in ways),
        )


def pairs_of(groups: Heard, kept: Flags, beliefs: HealthBeliefs) -> Pairs:
    """Find crossings of the birds of a box that follow each other.

    Parameters
    ----------
    groups : Heard
        By tag, then by time.
    kept : numpy.ndarray of bool, shape (k,)
        Groups heard while both antennas were awake.
    beliefs : HealthBeliefs
    """
    kept = kept & ~resting(groups, beliefs)
    told = np.flatnonzero(((groups.kind == WAY_IN) | (groups.kind == WAY_OUT)) & kept)
    first, second = told[:-1], told[1:]

    def between(flag: Flags) -> Ints:
        summed = np.concatenate([[0], np.cumsum(flag)])
        found: Ints = summed[second] - summed[first + 1]
        return found

    # a group whose order is not known, a rest, or one heard while an antenna slept leaves the turn open
    sound = (groups.tag[first] == groups.tag[second]) & (between((groups.kind < 0) | ~kept) == 0)
    first, second = first[sound], second[sound]
    return Pairs(
        groups.begin[first],
        groups.begin[second],
        groups.kind[first] == groups.kind[second],
        between(groups.kind == OUTER_ONLY),
        between(groups.kind == INNER_ONLY),
    )


def resting(groups: Heard, beliefs: HealthBeliefs) -> Flags:
    """Mark groups of a bird that rests in the entrance: long ones, many in a row, and what is beside them.

    Parameters
    ----------
    groups : Heard
        By tag, then by time.
    beliefs : HealthBeliefs

    Returns
    -------
    numpy.ndarray of bool, shape (k,)
    """
    near = beliefs.pass_beside_s * _SECOND
    many = _many_in_a_row(groups, near, beliefs.pass_row)
    long_ = np.flatnonzero((groups.stop - groups.begin > beliefs.pass_s * _SECOND) | many)
    found = np.zeros(len(groups.tag), dtype=np.bool_)
    found[long_] = True
    if len(long_) == 0:
        return found
    last = np.cumsum(found) - 1
    before, after = long_[np.maximum(last, 0)], long_[np.minimum(last + 1, len(long_) - 1)]
    found |= (last >= 0) & (groups.tag[before] == groups.tag) & (groups.begin - groups.stop[before] < near)
    found |= (
        (after > np.arange(len(groups.tag)))
        & (groups.tag[after] == groups.tag)
        & (groups.begin[after] - groups.stop < near)
    )
    return found


def _many_in_a_row(groups: Heard, near: float, few: int) -> Flags:
    """Mark groups of which more than a few follow each other so near, in milliseconds."""
    parted = np.ones(len(groups.tag), dtype=np.bool_)
    parted[1:] = (groups.tag[1:] != groups.tag[:-1]) | (groups.begin[1:] - groups.stop[:-1] >= near)
    run = np.cumsum(parted) - 1
    found: Flags = (np.bincount(run) > few)[run]
    return found


def efficiencies(turns: Turns, beliefs: HealthBeliefs) -> tuple[float, float]:
    """Tell how well the outer and the inner antenna hear a crossing; nan where no turn was seen.

    Parameters
    ----------
    turns : Turns
    beliefs : HealthBeliefs
        How many turns, and lone groups, keep the estimates off their ends.

    Notes
    -----
    Crossings take turns. If both antennas hear one with chance b, the number missed between two that were
    told is geometric, and it is odd with (1 - b) / (2 - b): that is the share of pairs the same way, so b
    follows without knowing what lone groups are. Of a missed crossing the outer antenna alone hears p (1 -
    q), the inner alone q (1 - p). Looks and rests lie between crossings of either kind, so the lone groups
    that pairs the same way have more than pairs in turn are taken for missed crossings; with p q = b their
    ratio gives p and q. Pairs the same way last longer and hold more looks: where birds look in often and an
    antenna is weak, the one that hears more looks seems better than it is by 0.1 or more, the other worse.
    """
    n = turns.taken + turns.missed
    if n == 0:
        return float("nan"), float("nan")
    worth, missed = beliefs.turns_worth, beliefs.turns_missed
    share = min((turns.missed + worth * missed) / (n + worth), beliefs.turns_most)
    both = (1 - 2 * share) / (1 - share)
    outer = _more(turns.outer_taken, turns.outer_missed, turns) + worth
    inner = _more(turns.inner_taken, turns.inner_missed, turns) + worth
    ratio = outer / inner
    p = (both * (1 - ratio) + np.sqrt(both**2 * (1 - ratio) ** 2 + 4 * ratio * both)) / 2
    p = float(np.clip(p, both, 1.0))
    return p, float(min(both / p, 1.0))


def _more(taken: int, missed: int, turns: Turns) -> float:
    """How many more lone groups a pair the same way has."""
    usual = taken / turns.taken if turns.taken else 0.0
    return max(missed - usual * turns.missed, 0.0)

"""How well each antenna heard in each of its awake spells."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.antenna_efficiency import shrunken
from audit.models.missed_crossings import efficiencies, pairs_of
from audit.models.reads import INNER, OUTER

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.box_log import BoxLog, Heard
    from audit.models.health_beliefs import HealthBeliefs
    from audit.models.missed_crossings import Turns

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

__all__ = ["ASLEEP", "AWAKE", "DEAD", "UNKNOWN", "Piece", "efficiency_of_pieces", "inside"]

AWAKE, ASLEEP, DEAD, UNKNOWN = 0, 1, 2, 3
_UNSAID = {AWAKE: np.nan, ASLEEP: 0.0, DEAD: 0.0, UNKNOWN: np.nan}


@dataclass(frozen=True, slots=True)
class Piece:
    """A time in which the state of an antenna was one, in milliseconds; the end is not part of it."""

    start: int
    end: int
    state: int


def inside(heard: Heard, spells: list[tuple[int, int]]) -> Flags:
    """Mark what was heard in some spells, at least in part."""
    found = np.zeros(len(heard.tag), dtype=np.bool_)
    for start, end in spells:
        found |= (heard.begin < end) & (heard.stop >= start)
    return found


def efficiency_of_pieces(
    logs: list[BoxLog], found: list[tuple[list[Piece], list[Piece]]], beliefs: HealthBeliefs
) -> list[tuple[Floats, Floats]]:
    """Tell the efficiency of each piece, drawn towards that of its box, and that towards all boxes.

    Parameters
    ----------
    logs : list of BoxLog
    found : list of tuple of two list of Piece
        Of the outer and the inner antenna of each box, in order.
    beliefs : HealthBeliefs

    Returns
    -------
    list of tuple of two numpy.ndarray
        0 where dead or asleep, nan where unknown.
    """
    told: list[tuple[Floats, Floats]] = [
        (np.array([_UNSAID[p.state] for p in sides[0]]), np.array([_UNSAID[p.state] for p in sides[1]]))
        for sides in found
    ]
    heard, worth = np.zeros((2, len(logs))), np.zeros(len(logs))
    kept = []
    for k, log in enumerate(logs):
        off = [(p.start, p.end) for sides in found[k] for p in sides if p.state != AWAKE]
        kept.append(_Kept(log, ~inside(log.groups, off), beliefs))
        heard[:, k], worth[k] = kept[k].heard()
    for side in (OUTER, INNER):
        value = shrunken(heard[side], worth, beliefs.efficiency, beliefs.worth, beliefs.most)
        for k in range(len(logs)):
            told[k][side][:] = _of_spells(kept[k], found[k][side], side, float(value[k]), beliefs)
    return told


class _Kept:
    """Groups of one box that were heard while both antennas were awake."""

    def __init__(self, log: BoxLog, kept: Flags, beliefs: HealthBeliefs) -> None:
        self.pairs, self.beliefs = pairs_of(log.groups, kept, beliefs), beliefs
        #: Both antennas mostly have the same spells.
        self.known: dict[tuple[int, int], tuple[Floats, float]] = {}

    def heard(self) -> tuple[Floats, float]:
        """Crossings heard by each antenna, of how many."""
        return _heard(self.pairs.turns(), self.beliefs)

    def between(self, start: int, end: int) -> tuple[Floats, float]:
        """Give the same of groups that began between two moments."""
        if (start, end) not in self.known:
            # groups of one bird lie in the order of time, so all between these two lie between the moments
            within = (self.pairs.first >= start) & (self.pairs.second < end)
            self.known[start, end] = _heard(self.pairs.turns(within), self.beliefs)
        return self.known[start, end]


def _heard(turns: Turns, beliefs: HealthBeliefs) -> tuple[Floats, float]:
    """Crossings heard by each antenna, of how many; what is told by turns is half as sure as what is seen."""
    worth = (turns.taken + turns.missed) / 2
    return np.nan_to_num(np.array(efficiencies(turns, beliefs))) * worth, worth


def _of_spells(kept: _Kept, pieces: list[Piece], side: int, value: float, beliefs: HealthBeliefs) -> Floats:
    """Efficiency of each piece of one antenna: that of the box, moved by what was heard in the awake spell.

    Awake pieces parted by sleep alone are one spell: an antenna changes when it dies and is mended, not when
    its logger sleeps.
    """
    state = np.array([piece.state for piece in pieces])
    told = np.array([_UNSAID[piece.state] for piece in pieces])
    spell = np.cumsum((state == DEAD) | (state == UNKNOWN))
    several = len(np.unique(spell[state == AWAKE])) > 1
    for one in np.unique(spell[state == AWAKE]).tolist():
        mine = np.flatnonzero((spell == one) & (state == AWAKE))
        told[mine] = value
        if several:
            start, end = pieces[mine[0]].start, pieces[mine[-1]].end
            heard, worth = kept.between(start, end)
            told[mine] = (heard[side] + beliefs.most * value) / (worth + beliefs.most)
    return told

"""How well each antenna heard in each of its awake spells."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.antenna_efficiency import shrunken
from audit.models.missed_crossings import efficiencies, turns_of
from audit.models.reads import INNER, OUTER

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.box_log import BoxLog, Heard
    from audit.models.health_beliefs import HealthBeliefs

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
        kept.append(~inside(log.groups, off))
        heard[:, k], worth[k] = _heard(log, kept[k])
    for side in (OUTER, INNER):
        value = shrunken(heard[side], worth, beliefs.efficiency, beliefs.worth, beliefs.most)
        for k, log in enumerate(logs):
            told[k][side][:] = _of_spells(log, found[k][side], side, kept[k], float(value[k]), beliefs)
    return told


def _heard(log: BoxLog, kept: Flags) -> tuple[Floats, float]:
    """Crossings heard by each antenna, of how many; what is told by turns is half as sure as what is seen."""
    turns = turns_of(log.groups, kept)
    worth = (turns.taken + turns.missed) / 2
    return np.nan_to_num(np.array(efficiencies(turns))) * worth, worth


def _of_spells(
    log: BoxLog, pieces: list[Piece], side: int, kept: Flags, value: float, beliefs: HealthBeliefs
) -> Floats:
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
            within = (log.groups.begin >= start) & (log.groups.begin < end)
            heard, worth = _heard(log, kept & within)
            told[mine] = (heard[side] + beliefs.most * value) / (worth + beliefs.most)
    return told

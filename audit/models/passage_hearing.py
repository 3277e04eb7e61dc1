"""How well antennas heard at the moments of groups, and when neither of them did."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from audit.models.numbered_keys import numbered, numbered_runs
from audit.models.reads import INNER, OUTER, Spells

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Hearing", "no_spells"]

_ASLEEP, _DEAD, _UNKNOWN = 1, 2, 3


def no_spells() -> Spells:
    """Return what is known of antennas of which nothing is known."""
    small, ints = np.empty(0, dtype=np.int32), np.empty(0, dtype=np.int64)
    tiny = np.empty(0, dtype=np.int8)
    return Spells(small, tiny, ints, ints, tiny, np.empty(0))


@dataclass(frozen=True, slots=True)
class Hearing:
    """How well the antennas heard at the moments of groups.

    Attributes
    ----------
    pairs : numpy.ndarray of int, shape (2, m)
        Pieces of the outer and of the inner antenna that lie beside each other.
    side : numpy.ndarray of int, shape (pieces,)
        Whether a piece is of an outer antenna (0) or of an inner one (1).
    pair : numpy.ndarray of int, shape (n,)
        Pair of pieces at each group.
    ready : numpy.ndarray of int, shape (n,)
        The same, but where a logger had stored the tag at an antenna so lately that it could not do so again,
        a piece that is off stands in place of that antenna.
    told : numpy.ndarray, shape (pieces,)
        Chance that a crossing is heard; nan where nothing is known. Of antennas that are not off it is
        learnt anew from all that was heard, so that it does not count twice.
    off : numpy.ndarray of bool, shape (pieces,)
        Whether the antenna is dead or asleep.
    doubted : numpy.ndarray of bool, shape (pieces,)
        Whether nobody can say if it was.
    silent : numpy.ndarray, shape (n,)
        Seconds since the group before in which neither antenna could hear.
    slept : numpy.ndarray, shape (n,)
        Those of them in which both are said to have slept.
    """

    pairs: Ints
    side: Ints
    pair: Ints
    ready: Ints
    told: Floats
    off: NDArray[np.bool_]
    doubted: NDArray[np.bool_]
    silent: Floats
    slept: Floats

    @classmethod
    def at(
        cls,
        spells: Spells,
        box: NDArray[np.int32],
        since: Ints,
        until: Ints,
        bounds: tuple[float, float],
    ) -> Hearing:
        """Look up groups.

        Parameters
        ----------
        spells : Spells
            Pieces, in any order; may be empty.
        box : numpy.ndarray of int, shape (n,)
            Box of each group.
        since, until : numpy.ndarray of int, shape (n,)
            End of the group before and start of this one, in milliseconds.
        bounds : (float, float)
            Chance that an antenna said to be off yet hears, and the most that any antenna hears.
        """
        boxes, place = numbered_runs(box.astype(np.int64))
        # a piece for each antenna of each box where nothing is told comes first
        told, without = [np.full(2 * len(boxes), np.nan)], [np.zeros(2 * len(boxes), dtype=np.bool_)]
        doubted = without.copy()
        piece = np.stack([2 * place, 2 * place + 1])
        number = 2 * len(boxes)
        silent, slept = np.zeros(len(box)), np.zeros(len(box))
        if len(spells.box):
            low = int(min(spells.start.min(), since.min(initial=np.iinfo(np.int64).max)))
            span = int(max(spells.end.max(), until.max(initial=0))) - low + 1
            here = np.isin(spells.box, boxes)
            for antenna in (OUTER, INNER):
                mine = np.flatnonzero(here & (spells.antenna == antenna))
                key = np.searchsorted(boxes, spells.box[mine]) * span + (spells.start[mine] - low)
                mine, key = mine[np.argsort(key)], np.sort(key)
                if len(mine) == 0:
                    continue
                found = np.searchsorted(key, place * span + (until - low), side="right") - 1
                one = mine[np.maximum(found, 0)]
                inside = (found >= 0) & (spells.box[one] == box) & (until < spells.end[one])
                piece[antenna, inside] = number + found[inside]
                number += len(mine)
                silence = np.isin(spells.state[mine], (_ASLEEP, _DEAD))
                told.append(np.where(silence, bounds[0], spells.efficiency[mine]))
                without.append(silence)
                doubted.append(spells.state[mine] == _UNKNOWN)
            moments = (place * span, since - low, until - low)
            off = np.isin(spells.state, (_ASLEEP, _DEAD)) & here
            silent = _silence(spells, boxes, off, moments, low, span)
            slept = _silence(spells, boxes, off & (spells.state == _ASLEEP), moments, low, span)
        key, pair = numbered(piece[0] * number + piece[1], number * number)
        pairs = np.stack([key // number, key % number]) if number else np.empty((2, 0), dtype=np.int64)
        side = np.zeros(number, dtype=np.int64)
        side[pairs[INNER]] = INNER
        chances = np.clip(np.concatenate(told), *bounds)
        off, unsure = np.concatenate(without), np.concatenate(doubted)
        return cls(pairs, side, pair, pair, chances, off, unsure, silent, slept)

    def held_off(self, held: NDArray[np.bool_], place: Ints, chance: float) -> Hearing:
        """Tell which antennas could not store the tag again.

        Parameters
        ----------
        held : numpy.ndarray of bool, shape (2, n)
            Whether the logger was not ready at the outer and the inner antenna, by group.
        place : numpy.ndarray of int, shape (n,)
            Number of the box of each group.
        chance : float
            That it heard the bird all the same.
        """
        which = np.flatnonzero(held.any(axis=0))
        if len(which) == 0:
            return self
        number, boxes = len(self.told), int(place.max()) + 1
        new = 2 * boxes
        piece = self.pairs[:, self.pair[which]]
        for antenna in (OUTER, INNER):
            piece[antenna] = np.where(
                held[antenna, which], number + 2 * place[which] + antenna, piece[antenna]
            )
        key, of = numbered(piece[0] * (number + new) + piece[1], (number + new) ** 2)
        more = np.stack([key // (number + new), key % (number + new)])
        ready = self.pair.copy()
        ready[which] = self.pairs.shape[1] + of
        return replace(
            self,
            pairs=np.concatenate([self.pairs, more], axis=1),
            side=np.concatenate([self.side, np.tile([OUTER, INNER], boxes)]),
            ready=ready,
            told=np.concatenate([self.told, np.full(new, chance)]),
            off=np.concatenate([self.off, np.ones(new, dtype=np.bool_)]),
            doubted=np.concatenate([self.doubted, np.zeros(new, dtype=np.bool_)]),
        )


def _silence(
    spells: Spells,
    boxes: Ints,
    off: NDArray[np.bool_],
    moments: tuple[Ints, Ints, Ints],
    low: int,
    span: int,
) -> Floats:
    """Seconds between two moments at a box in which both antennas were in pieces that are off."""
    mine = np.flatnonzero(off)
    rank = np.searchsorted(boxes, spells.box[mine]) * span
    key = np.concatenate([rank + (spells.start[mine] - low), rank + (spells.end[mine] - low)])
    if len(key) == 0:
        return np.zeros(len(moments[0]))
    order = np.argsort(key, kind="stable")
    key = key[order]
    # pieces of one antenna do not overlap, so two at once are of both
    both = (np.cumsum(np.repeat([1, -1], len(mine))[order]) >= 2).astype(np.int64)  # noqa: PLR2004 - both
    passed = np.concatenate([[0], np.cumsum(np.diff(key) * both[:-1])])

    def until_then(moment: Ints) -> Ints:
        asked = moments[0] + np.clip(moment, 0, span - 1)
        found = np.searchsorted(key, asked, side="right") - 1
        one = np.maximum(found, 0)
        return np.where(found >= 0, passed[one] + both[one] * (asked - key[one]), 0)

    silent: Floats = np.maximum(until_then(moments[2]) - until_then(moments[1]), 0) / 1000.0
    return silent

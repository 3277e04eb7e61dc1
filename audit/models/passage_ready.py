"""How soon loggers store a tag again, and so whether they hear a bird that comes back from a look."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.read_groups import INNER_ONLY, OUTER_ONLY
from audit.models.reads import INNER, OUTER

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_limits import Limits
    from audit.models.read_groups import Groups
    from audit.models.reads import Reads

    Floats = NDArray[np.float64]

__all__ = ["Stored", "held_off", "not_ready", "ready_again", "stored_again"]

_SECOND = 1000


@dataclass(frozen=True, slots=True)
class Stored:
    """How soon loggers stored a tag again at one antenna.

    Attributes
    ----------
    gap : numpy.ndarray, shape (n,)
        Seconds.
    box : numpy.ndarray of int, shape (n,)
        Code of the box.
    shared : float
        Seconds for which no antenna of a box stores a tag that any of them stored; 0 where each waits by
        itself.
    """

    gap: Floats
    box: NDArray[np.int32]
    shared: float = 0.0


def ready_again(stored: Stored, boxes: NDArray[np.int32], limits: Limits) -> Floats:
    """Give the chance that an antenna that stored a tag does so again after a look, by box, shape (boxes,).

    Parameters
    ----------
    stored : Stored
    boxes : numpy.ndarray of int, shape (boxes,)
        Codes of the boxes asked about, in order.
    limits : Limits

    Notes
    -----
    Looks are taken to last as exponential times do, and a logger to store no tag twice at one antenna within
    the shortest gap that is seen, where many are hardly longer. Too few gaps of a box tell nothing of their
    own: then all are asked.
    """
    of = np.searchsorted(boxes, stored.box)
    here = boxes[np.minimum(of, len(boxes) - 1)] == stored.box
    gap, of = stored.gap[here], of[here]
    every = _after(gap, limits) if len(gap) >= limits.ready_reads else limits.ready_most
    found = np.full(len(boxes), every)
    count = np.bincount(of, minlength=len(boxes))
    for one in np.flatnonzero(count >= limits.ready_reads):
        found[one] = _after(gap[of == one], limits)
    return found


def held_off(stored: Stored, boxes: NDArray[np.int32], limits: Limits) -> Floats:
    """Give the seconds for which loggers store no tag twice at one antenna, 0 if they do, shape (boxes,).

    Parameters as in `ready_again`.
    """
    of = np.searchsorted(boxes, stored.box)
    here = boxes[np.minimum(of, len(boxes) - 1)] == stored.box
    gap, of = stored.gap[here], of[here]
    every = _held(gap, limits) if len(gap) >= limits.ready_reads else 0.0
    found = np.full(len(boxes), every)
    count = np.bincount(of, minlength=len(boxes))
    for one in np.flatnonzero(count >= limits.ready_reads):
        found[one] = _held(gap[of == one], limits)
    return found


def not_ready(reads: Reads, groups: Groups, held: Floats) -> NDArray[np.bool_]:
    """Tell which antennas could not store the bird of a group, for they had done so lately, shape (2, n).

    Parameters
    ----------
    reads : Reads
        Sorted by box, tag and time.
    groups : Groups
        Some of their groups, birds whole.
    held : numpy.ndarray, shape (n,)
        Seconds for which the logger of each group stores no tag twice at one antenna.
    """
    found = np.zeros((2, len(groups.begin)), dtype=np.bool_)
    since = groups.start - (held * _SECOND).astype(np.int64)
    soon = ~groups.fresh
    soon[1:] &= groups.stop[:-1] > since[1:]
    which, back = np.flatnonzero(soon), 1
    while len(which):
        place = groups.begin[which] - back
        which, place = which[place >= 0], place[place >= 0]
        # a bird before may have been read at the same time
        near = (reads.at[place] > since[which]) & (reads.tag[place] == reads.tag[groups.begin[which]])
        which, place = which[near], place[near]
        found[reads.antenna[place], which] = True
        back += 1
    heard = groups.heard
    found[OUTER] &= heard == INNER_ONLY
    found[INNER] &= heard == OUTER_ONLY
    return found


def _held(gap: Floats, limits: Limits) -> float:
    held = float(np.quantile(gap, limits.ready_rare))
    # a bird at rest is stored as soon as the logger may: many gaps begin there; stays in the box do not
    return held if float((gap <= limits.ready_times * held).mean()) >= limits.ready_often else 0.0


def _after(gap: Floats, limits: Limits) -> float:
    return limits.ready_most * math.exp(-_held(gap, limits) / limits.ready_look_s)


def stored_again(reads: Reads, limits: Limits) -> Stored:
    """Tell after what time one antenna stored a tag again, straight or after the other.

    Parameters
    ----------
    reads : Reads
        Sorted by box, tag and time; where there are many, some are looked at.
    limits : Limits
        `ready_wait_s` is the longest time that is looked at.
    """
    n = len(reads.at)
    every = max(1, n // limits.ready_enough)
    gaps, places = [], []
    for step in (1, 2):
        one, later = slice(0, max(n - step, 0), every), slice(step, n, every)
        box, waited = reads.box[one], reads.at[later] - reads.at[one]
        same = (waited <= limits.ready_wait_s * _SECOND) & (reads.antenna[one] == reads.antenna[later])
        same &= (box == reads.box[later]) & (reads.tag[one] == reads.tag[later])
        if step > 1:
            same &= reads.antenna[one] != reads.antenna[slice(1, n - 1, every)]
        gaps.append(waited[same] / _SECOND)
        places.append(box[same])
    return Stored(np.concatenate(gaps), np.concatenate(places), _shared(reads, every, limits))


def _shared(reads: Reads, every: int, limits: Limits) -> float:
    """How long no antenna stores a tag that any of them stored: then none follows the other any sooner."""
    n = len(reads.at)
    one, later = slice(0, max(n - 1, 0), every), slice(1, n, every)
    gap = (reads.at[later] - reads.at[one]) / _SECOND
    same = (reads.box[one] == reads.box[later]) & (reads.tag[one] == reads.tag[later])
    same &= gap <= limits.ready_wait_s
    other = reads.antenna[one] != reads.antenna[later]
    alone, across = gap[same & ~other], gap[same & other]
    if min(len(alone), len(across)) < limits.ready_reads:
        return 0.0
    held = _held(alone, limits)
    together = limits.ready_times * np.quantile(across, limits.ready_rare) >= held
    return held if together and held >= limits.ready_shared_s else 0.0

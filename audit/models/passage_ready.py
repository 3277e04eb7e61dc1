"""How soon loggers store a tag again, and so whether they hear a bird that comes back from a look."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_limits import Limits
    from audit.models.reads import Reads

    Floats = NDArray[np.float64]

__all__ = ["Stored", "ready_again", "stored_again"]

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
    """

    gap: Floats
    box: NDArray[np.int32]


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


def _after(gap: Floats, limits: Limits) -> float:
    held = float(np.quantile(gap, limits.ready_rare))
    # a bird at rest is stored as soon as the logger may: many gaps begin there; stays in the box do not
    waits = float((gap <= limits.ready_times * held).mean()) >= limits.ready_often
    found: float = limits.ready_most * np.exp(-held / limits.ready_look_s) if waits else limits.ready_most
    return found


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
    return Stored(np.concatenate(gaps), np.concatenate(places))

"""Two passages within one group of reads: in and out again, or out and in, before the gap that parts it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.passage_manners import PASSAGE
from audit.models.passage_sights import LENGTHS, SIGHTS, as_seen, length_bin
from audit.models.passage_waits import masses

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_limits import Limits
    from audit.models.passage_manners import Manners
    from audit.models.passage_waits import Waits

    Floats = NDArray[np.float64]

__all__ = ["returns"]

#: Orders by first and last antenna, each near, far or tie; behind those of one antenna.
_SIDES = 3
_FIRST, _LAST = 2, 2 + _SIDES**2


def returns(manners: Manners, waits: Waits, efficiency: Floats, limits: Limits) -> Floats:
    """Weigh everything that may be heard of a bird that passes twice within one group.

    Parameters
    ----------
    manners : Manners
        What single passages look like.
    waits : Waits
        How long birds stay inside and outside.
    efficiency : numpy.ndarray, shape (2, m)
        Chance that the outer and the inner antenna hear a crossing.
    limits : Limits
        `gap_most_s` is the gap that parts groups of this log.

    Returns
    -------
    numpy.ndarray, shape (2, m, SIGHTS)
        Without shares; by the state before the group, and by what the group looks like.

    Notes
    -----
    Nothing is learnt of such groups by themselves, for they look like looks: they are two passages as there
    are, and a stay between them as there are, short enough not to part the group. Each passage is heard by
    one antenna at least, and the two of them by both; what nobody heard is weighed between groups. A pause
    beyond `pause_least_s` between two reads of one antenna parts a group, too (`passage_pauses`).
    """
    both, alone = (lasting.reshape(-1, 2).sum(axis=1) for lasting in manners.lasting[PASSAGE][[1, 0]])
    often = manners.lasting[PASSAGE, 1].reshape(-1, 2)[:, 1].sum()
    orders = manners.orders[PASSAGE, :-1].reshape(_SIDES, _SIDES).copy()
    # what has one stamp begins and ends with both
    orders[-1, -1] += manners.orders[PASSAGE, -1]
    # the second passage begins on the other side
    first, last = orders.sum(axis=1), orders.sum(axis=0)[[1, 0, 2]]
    near, far = np.eye(_SIDES)[:2]
    m, lengths = efficiency.shape[1], len(LENGTHS)
    found = np.empty((2, m, SIGHTS))
    for state in (0, 1):
        a, b = efficiency[state], efficiency[1 - state]
        short = masses(waits.density[1 - state], limits.pause_least_s)
        whole = masses(waits.density[1 - state], limits.gap_most_s)
        two, one = _lasting(both, both, *short), _lasting(both, alone, *whole)
        half, none = _lasting(both, alone, *short), _lasting(alone, alone, *whole)
        ways = (
            ((a * b) ** 2, first, last, two),
            (a**2 * b * (1 - b), first, near, one),
            (a**2 * b * (1 - b), near, last, one),
            (a * (1 - a) * b**2, first, far, half),
            (a * (1 - a) * b**2, far, last, half),
            (a * (1 - a) * b * (1 - b), near, far, none),
            (a * (1 - a) * b * (1 - b), far, near, none),
        )
        view = np.zeros((m, SIGHTS // (2 * lengths), lengths, 2))
        for chance, begins, ends, lasts in ways:
            order = np.outer(begins, ends).ravel()
            view[:, _FIRST:_LAST, :, 0] += chance[:, None, None] * (order[:, None] * lasts)
        view[..., 1] = view[..., 0] * often
        view[..., 0] *= 1 - often
        found[state] = as_seen(view.reshape(m, -1, 2 * lengths), state)
    return found


def _lasting(one: Floats, other: Floats, stays: Floats, mass: Floats) -> Floats:
    """Chance of each length of a group, of two passages and the stay between them, shape (bins,)."""
    length = LENGTHS[:, None, None] + LENGTHS[:, None] + stays
    weight = one[:, None, None] * other[:, None] * mass
    found: Floats = np.bincount(length_bin(length).ravel(), weight.ravel(), len(LENGTHS)).astype(float)
    return found

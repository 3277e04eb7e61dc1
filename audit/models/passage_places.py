"""Where between two groups of reads a crossing was that no antenna heard."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.passage_waits import CENTRES, DEPTH, NODES, SHARES, STEPS, WAITS, bin_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_waits import Waits

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["ends", "place"]

_TINY = np.finfo(float).tiny


def place(
    waits: Waits, state: Ints, wait: Floats, within: float, young: NDArray[np.bool_] | None = None
) -> tuple[Floats, Floats]:
    """Place one crossing that was missed between two groups.

    Parameters
    ----------
    waits : Waits
        How long birds stay.
    state : numpy.ndarray of int, shape (n,)
        State of the bird when the wait began.
    wait : numpy.ndarray, shape (n,)
        Time between the groups, in seconds.
    within : float
        How close the placed moment should be to the true one, in seconds.
    young : numpy.ndarray of bool, shape (n,), optional
        Whether the bird sat in the nest before it flew; none did if not given.

    Returns
    -------
    moment, p : numpy.ndarray, shape (n,)
        Seconds after the first group, and the probability that the crossing was so close.
    """
    of = np.zeros(1, dtype=np.bool_) if young is None else young
    first, reached = _cumulated(waits, state, wait, of)
    mass = _reached(reached, first + within, wait) - _reached(reached, first - within, wait)
    best = mass.argmax(axis=1)
    rows = np.arange(len(wait))
    return first[rows, best], np.clip(mass[rows, best], 0.0, 1.0)


def ends(waits: Waits, state: int, bins: Ints, most: int) -> tuple[Floats, Floats]:
    """Tell how near to either end of a wait one crossing was that was missed in it.

    Parameters
    ----------
    waits : Waits
        How long birds stay.
    state : int
        State of the bird when the wait began.
    bins : numpy.ndarray of int, shape (k,)
        Bins of waits, as `bin_of` gives them.
    most : int
        Seconds up to which it is asked.

    Returns
    -------
    behind, before : numpy.ndarray, shape (k, most + 2)
        Chance that the crossing came at most -1, 0, 1, ... seconds behind the first group, and before the
        second.
    """
    wait = CENTRES[bins % WAITS]
    _, reached = _cumulated(waits, np.full(len(bins), state), wait, bins >= WAITS)
    moments = np.broadcast_to(np.arange(most + 1.0), (len(wait), most + 1))
    none = np.zeros((len(wait), 1))
    behind = _reached(reached, moments, wait)
    before = 1 - _reached(reached, wait[:, None] - moments, wait)
    return np.concatenate([none, behind], axis=1), np.concatenate([none, before], axis=1)


def _cumulated(waits: Waits, state: Ints, wait: Floats, young: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """Moments between two groups, and the chance that the crossing came before each of them."""
    first, of = wait[:, None] * SHARES, young[:, None]
    density = waits.missed[:, 0]
    weight = (
        density[state[:, None], bin_of(first, of)]
        * density[1 - state[:, None], bin_of(wait[:, None] * SHARES[::-1], of)]
        * STEPS
    )
    total = np.maximum(weight.sum(axis=1, keepdims=True), _TINY)
    return first, np.cumsum(weight / total, axis=1)


def _reached(reached: Floats, moment: Floats, wait: Floats) -> Floats:
    """Cumulative chance at moments, between the nodes."""
    share = np.clip(moment / wait[:, None], 0.0, 1.0)
    near = np.minimum(share, 1 - share)
    depth = np.minimum(-np.log(np.maximum(2 * near, 1e-12)), DEPTH) / DEPTH * NODES
    node = np.where(share <= 1 / 2, NODES - depth, NODES + depth)
    low = np.clip(np.floor(node).astype(np.int64), 0, 2 * NODES)
    padded = np.concatenate([np.zeros((len(wait), 1)), reached], axis=1)
    rows = np.arange(len(wait))[:, None]
    high = np.minimum(low + 1, 2 * NODES)
    part = node - low
    found: Floats = padded[rows, low] * (1 - part) + padded[rows, high] * part
    return found

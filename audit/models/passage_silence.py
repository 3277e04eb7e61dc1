"""What becomes of the state of a bird while no antenna can hear it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.passage_missed import between
from audit.models.passage_waits import bin_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_chains import Chains
    from audit.models.passage_waits import Waits

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["over_silence"]

_SMALL = 1e-12
_TINY = np.finfo(float).tiny
#: Where exponents end.
_LONG = 700.0


def over_silence(
    chains: Chains,
    waits: Waits,
    silent: Ints,
    chances: tuple[Floats, Floats],
    gaps: Floats,
    *,
    true: float,
    young: NDArray[np.bool_] | None = None,
) -> Floats:
    """Weigh states on both sides of a wait in which no antenna could hear for a while.

    Parameters
    ----------
    chains : Chains
        Groups.
    waits : Waits
        How long birds stay.
    silent : numpy.ndarray of int, shape (m,)
        Groups with a silence before them.
    chances : (numpy.ndarray, numpy.ndarray)
        Chance that the next thing a bird does outside, or inside, is a crossing, and one that is not heard;
        shape (2, m).
    gaps : numpy.ndarray, shape (2, 2, n)
        Weights of the states without the silence, for all groups.
    true : float
        Chance that a sleep told from silence was one.
    young : numpy.ndarray of bool, shape (n,), optional
        Groups of birds that sat in the nest before they flew; none if not given.

    Returns
    -------
    numpy.ndarray, shape (2, 2, m)

    Notes
    -----
    States mix while nobody hears. A sleep is inferred from silence, though, and silence may be birds that do
    not move.
    """
    passing, unheard = chances
    mixing = _mixing(waits, passing, chains.hearing.silent[silent])
    mixed = np.einsum("abn,bcn->acn", mixing, gaps[:, :, silent])
    mixed /= np.maximum(mixed.sum(axis=(0, 1)), _TINY)
    slept = chains.hearing.slept[silent]
    sat = False if young is None else young[silent]
    since = between(waits, bin_of(chains.wait[silent] + slept, sat), unheard)
    awake = np.array([[since.stay[0], since.change[0]], [since.change[1], since.stay[1]]])
    awake /= np.maximum(awake.sum(axis=(0, 1)), _TINY)
    found: Floats = np.where(slept > 0, (1 - true) * awake + true * mixed, mixed)
    return found


def _mixing(waits: Waits, passing: Floats, silent: Floats) -> Floats:
    """How states mix while nobody hears, shape (2, 2, m): two states that change at constant rates."""
    rate = np.maximum(passing, _SMALL) / waits.mean[:, None]
    whole = rate[0] + rate[1]
    fade = np.exp(-np.minimum(whole * silent, _LONG))
    found = np.empty((2, 2, len(silent)))
    for state in (0, 1):
        found[state, 1 - state] = rate[state] / whole * (1 - fade)
        found[state, state] = 1 - found[state, 1 - state]
    return found

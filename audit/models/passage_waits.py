"""How long birds stay inside and outside, and what was missed meanwhile."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.passage_limits import Limits

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = [
    "CENTRES",
    "DEPTH",
    "NODES",
    "SHARES",
    "STEPS",
    "WAITS",
    "Sitters",
    "Waits",
    "bin_of",
    "density_of",
    "masses",
    "pauses_from",
    "waits_from",
]

#: So many crossings in a row may have been missed between two groups.
_MOST_MISSED = 5
_WIDER = 1.25
_SHORTEST, _LONGEST = 1.0, 60 * 86400.0
_N = int(np.ceil(np.log(_LONGEST / _SHORTEST) / np.log(_WIDER)))
#: Bins of one kind of bird.
WAITS = _N
_EDGES = _SHORTEST * _WIDER ** np.arange(_N + 1)
_WIDTHS = np.diff(_EDGES)
#: Seconds that stand for each bin.
CENTRES = np.sqrt(_EDGES[1:] * _EDGES[:-1])
#: Nodes of the integral over the first wait, dense towards both ends: distances from the nearer end are
#: half the whole, divided by e to so many.
DEPTH, NODES = 16.0, 128
_DEPTHS = (np.arange(NODES) + 0.5) * DEPTH / NODES
_NEAR = 0.5 * np.exp(-_DEPTHS)
SHARES = np.concatenate([_NEAR[::-1], 1 - _NEAR])
STEPS = np.concatenate([_NEAR[::-1], _NEAR]) * DEPTH / NODES
_KERNEL = np.array([1.0, 2.0, 3.0, 2.0, 1.0]) / 9.0


@dataclass(frozen=True, slots=True)
class Waits:
    """Densities of the time from one moment at the entrance to the next, by state: 0 outside, 1 inside.

    Attributes
    ----------
    density : numpy.ndarray, shape (2, bins)
        Per second, constant within a bin.
    missed : numpy.ndarray, shape (2, 6, 2 * bins)
        The same of the time to the next group that was heard when so many crossings between were not, by
        the state at the beginning; then all of this for birds that sat in the nest before they flew.
    mean : numpy.ndarray, shape (2,)
        Mean time, in seconds.
    """

    density: Floats
    missed: Floats
    mean: Floats


def bin_of(wait: Floats, young: NDArray[np.bool_] | bool = False) -> Ints:
    """Return the bin of waits in seconds, among those of birds that sat in the nest at first if `young`."""
    shown = np.log(np.maximum(wait, _SHORTEST) / _SHORTEST) / np.log(_WIDER)
    found: Ints = np.minimum(shown.astype(np.int64), _N - 1) + _N * np.asarray(young)
    return found


def masses(density: Floats, most: float) -> tuple[Floats, Floats]:
    """Give seconds that stand for the bins of waits up to `most`, and the chance of each."""
    some = most >= CENTRES
    return CENTRES[some], density[some] * _WIDTHS[some]


#: Bins of both parts of the wait at the centre of each bin, at the nodes.
_FIRST, _REST = (bin_of(CENTRES[:, None] * shares) for shares in (SHARES, SHARES[::-1]))


@dataclass(frozen=True, slots=True)
class Sitters:
    """Waits of birds that sat in the nest before they flew, among all waits.

    Attributes
    ----------
    young : numpy.ndarray of bool, shape (n,)
        Whether it is a wait of such a bird.
    nest : numpy.ndarray, shape (n,)
        How sure it is that it had not flown.
    worth : float
        What the waits of all birds are worth for such a bird, in waits.
    """

    young: NDArray[np.bool_]
    nest: Floats
    worth: float


def waits_from(bins: Ints, weights: Floats, unseen: float, sitters: Sitters | None = None) -> Waits:
    """Learn waits from those that were seen.

    Parameters
    ----------
    bins : numpy.ndarray of int, shape (n,)
        Bins of the waits.
    weights : numpy.ndarray, shape (2, n)
        How sure it is that the bird was outside, or inside, all the time.
    unseen : float
        What a wait is worth that nobody has seen.
    sitters : Sitters, optional
        Which of them are of birds that sat in the nest at first; these wait as all do if not given.
    """
    density = np.stack([_density(np.bincount(bins, one, _N), bins, 1.0, unseen) for one in weights])
    missed = _missed(density)
    late = missed if sitters is None else _missed(_of_sitters(density, bins, weights, unseen, sitters))
    mean = (density * _WIDTHS * CENTRES).sum(axis=1)
    return Waits(density, np.concatenate([missed, late], axis=2), mean)


def _of_sitters(density: Floats, bins: Ints, weights: Floats, unseen: float, sitters: Sitters) -> Floats:
    own = weights[:, sitters.young]
    own[1] += sitters.nest[sitters.young]
    bins = bins[sitters.young]
    return np.stack(
        [
            _density(np.bincount(bins, one, _N) + sitters.worth * of_all * _WIDTHS, bins, 1.0, unseen)
            for one, of_all in zip(own, density, strict=True)
        ]
    )


def _missed(density: Floats) -> Floats:
    """Densities of the time to the next group when up to so many crossings between were not heard."""
    found = np.empty((2, _MOST_MISSED + 1, _N))
    found[:, 0] = density
    for n in range(1, _MOST_MISSED + 1):
        for state in (0, 1):
            found[state, n] = _joined(density[state], found[1 - state, n - 1])
    return found


def density_of(bins: Ints, weights: Floats, worth: float, unseen: float) -> Floats:
    """Return the density of waits by their weights, drawn towards all by so many of them, shape (bins,)."""
    return _density(np.bincount(bins, weights, _N), bins, worth, unseen)


def pauses_from(bins: Ints, weights: Floats, limits: Limits) -> Floats:
    """Return the density of pauses of birds that stay at the entrance, shape (k, bins).

    Beforehand any pause up to `limits.linger_s` is as likely on the scale of ratios.
    """
    start = (limits.linger_s >= CENTRES).astype(np.float64)
    start *= limits.weight_pauses / start.sum()
    smooth = np.stack(
        [start + np.convolve(np.bincount(bins, one, _N), _KERNEL, mode="same") for one in weights]
    )
    found: Floats = smooth / smooth.sum(axis=1, keepdims=True) / _WIDTHS
    return found


def _density(counts: Floats | Ints, bins: Ints, worth: float, unseen: float) -> Floats:
    ground = np.convolve(np.bincount(bins, minlength=_N), _KERNEL, mode="same") + unseen
    smooth = np.convolve(counts, _KERNEL, mode="same") + worth * ground / ground.sum() + unseen
    found: Floats = smooth / smooth.sum() / _WIDTHS
    return found


def _joined(first: Floats, then: Floats) -> Floats:
    """Density of the sum of two waits, at the centres of the bins."""
    found: Floats = CENTRES * (first[_FIRST] * then[_REST] * STEPS).sum(axis=1)
    # centres stand for whole bins, so the whole is a little off one
    whole: Floats = found / (found * _WIDTHS).sum()
    return whole

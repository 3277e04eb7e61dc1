"""What is foretold of one value by the others of its brood: own other visits, siblings, the luck of a visit.

A value is the sum of effects of its brood, of its bird and of its visit, and of noise. Each is foretold from
all others, itself left out; a value that fits badly is not heeded for other birds.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["Foretold", "Kin", "Shares", "foretell", "kin_of"]

#: A missing value is one with so many times the variance of all effects.
_VAGUE = 1e4
_ROUNDS = 4
#: So many coefficients of equations are few.
_FEW = 10_000


@dataclass(frozen=True, slots=True)
class Kin:
    """Who belongs to whom.

    Attributes
    ----------
    brood, bird, visit : numpy.ndarray of int, shape (n,)
    blocks : tuple of numpy.ndarray of int, each of shape (b, m)
        Places of the members of broods of about one size, padded with -1.
    """

    brood: Ints
    bird: Ints
    visit: Ints
    blocks: tuple[Ints, ...]


@dataclass(frozen=True, slots=True)
class Shares:
    """Variances of what the values of a brood, of a bird and of a visit have in common.

    That of birds may differ between broods: shape (n,), one for each value.
    """

    brood: float
    bird: float | Floats
    visit: float


@dataclass(frozen=True, slots=True)
class Foretold:
    """Mean and standard deviation foretold of each value, its own noise left out; shape (n,)."""

    mean: Floats
    sd: Floats


def kin_of(brood: Ints, bird: Ints, visit: Ints, *, most: int) -> Kin:
    """Sort values by brood.

    Parameters
    ----------
    brood, bird, visit : numpy.ndarray of int, shape (n,)
        A bird belongs to one brood, and so does a visit.
    most : int
        A brood with more values is taken apart.
    """
    n = len(brood)
    order = np.argsort(brood, kind="stable")
    starts = np.flatnonzero(np.r_[True, np.diff(brood[order]) != 0]) if n else np.array([], dtype=np.int64)
    sizes = np.diff(np.r_[starts, n])
    rank = np.arange(n) - np.repeat(starts, sizes)
    cut = np.flatnonzero(rank % most == 0)
    starts, sizes = cut, np.diff(np.r_[cut, n])
    blocks = []
    for smaller, width in pairwise(_widths(sizes)):
        chosen = np.flatnonzero((sizes <= width) & (sizes > smaller))
        if len(chosen):
            places = np.arange(width)
            here = places[None, :] < sizes[chosen][:, None]
            found = np.where(here, starts[chosen][:, None] + places, 0)
            blocks.append(np.where(here, order[found], -1))
    return Kin(brood, bird, visit, tuple(blocks))


def _widths(sizes: Ints) -> list[int]:
    """Sizes up to which broods are solved together, from nothing on: each twice the last, but for few broods.

    Equations of a size cost as much for a few broods as for one, and more room for little.
    """
    widest = int(sizes.max(initial=0))
    widths = [0, 1]
    if len(sizes) * widest**2 <= _FEW:
        return [*widths, widest] if widest > 1 else widths
    while widths[-1] < widest:
        widths.append(2 * widths[-1])
    return widths


def foretell(value: Floats, noise: Floats, gain: Floats, kin: Kin, shares: Shares, *, odd: float) -> Foretold:
    """Foretell each value from the others of its brood.

    Parameters
    ----------
    value : numpy.ndarray, shape (n,)
        Deviations from what is expected of any bird; missing where unknown.
    noise : numpy.ndarray, shape (n,)
        Variance of each value's own noise.
    gain : numpy.ndarray, shape (n,)
        How strongly each value answers to the effect of its visit.
    kin : Kin
    shares : Shares
    odd : float
        A value further than so many standard deviations from what is foretold of it is not heeded for other
        birds; it still is for the same bird, since either of the two may be the odd one.

    Returns
    -------
    Foretold

    References
    ----------
    Best linear prediction (Henderson 1975, Biometrics 31, 423-447), left one out by the inverse of the
    covariance: y_i - (K y)_i / K_ii with variance 1 / K_ii (Rasmussen & Williams 2006, Gaussian Processes for
    Machine Learning, MIT Press, section 5.4.2).
    """
    n = len(value)
    mean = np.zeros(n)
    sd = np.sqrt(shares.brood + shares.bird + shares.visit * gain**2)
    for block in kin.blocks:
        if block.shape[1] == 1:
            continue
        here = block >= 0
        place = np.where(here, block, 0)
        system = _System(value, noise, gain, kin, shares, place, here)
        block_mean, block_sd = system.leave_out(odd)
        mean[block[here]] = block_mean[here]
        sd[block[here]] = block_sd[here]
    return Foretold(mean, sd)


class _System:
    """The equations of all broods of one block."""

    def __init__(
        self, value: Floats, noise: Floats, gain: Floats, kin: Kin, shares: Shares, place: Ints, here: Flags
    ) -> None:
        known = np.isfinite(value)
        birds = np.broadcast_to(shares.bird, known.shape)[place]
        total = shares.brood + birds + shares.visit
        self.y = np.where(here & known[place], np.where(known, value, 0.0)[place], 0.0)
        self.vague = _VAGUE * np.maximum(noise[place], total)
        self.own = np.where(known[place], noise[place], self.vague)
        self.known = here & known[place]
        self.bird = np.where(here, kin.bird[place], -1)
        visit = kin.visit[place]
        g = np.where(here, gain[place], 0.0)
        both = here[:, :, None] & here[:, None, :]
        same_bird = self.bird[:, :, None] == self.bird[:, None, :]
        same_visit = visit[:, :, None] == visit[:, None, :]
        together = shares.visit * g[:, :, None] * g[:, None, :]
        self.cov = np.where(both, shares.brood + birds[:, :, None] * same_bird + together * same_visit, 0.0)
        self.own = np.where(here, self.own, 1.0)

    def _solve(self, rows: Ints, out: Flags) -> tuple[Floats, Floats]:
        """Mean and variance foretold, own noise left out; values that are out not heeded."""
        noise = np.where(out, self.vague[rows], self.own[rows])
        cov = self.cov[rows].copy()
        steps = np.arange(cov.shape[1])
        cov[:, steps, steps] += noise
        inverse = np.linalg.inv(cov)
        own = inverse[:, steps, steps]
        off = (inverse @ self.y[rows][:, :, None])[:, :, 0] / own
        return self.y[rows] - off, np.maximum(1 / own - noise, 0.0)

    def leave_out(self, odd: float) -> tuple[Floats, Floats]:
        out = np.zeros(self.y.shape, dtype=bool)
        everyone = np.arange(len(out))
        mean, variance = self._solve(everyone, out)
        rows = everyone
        for _ in range(_ROUNDS):
            z = np.abs(self.y[rows] - mean[rows]) / np.sqrt(variance[rows] + self.own[rows])
            z[~self.known[rows] | out[rows]] = 0.0
            worst = z.argmax(axis=1)
            bad = z[np.arange(len(rows)), worst] > odd
            rows, worst = rows[bad], worst[bad]
            if not len(rows):
                break
            out[rows, worst] = True
            mean[rows], variance[rows] = self._solve(rows, out[rows])
        self._restore(out, mean, variance)
        return mean, np.sqrt(variance)

    def _restore(self, out: Flags, mean: Floats, variance: Floats) -> None:
        """Foretell the other values of a bird with an odd one as though it were not odd."""
        rows, column = np.nonzero(out)
        if not len(rows):
            return
        birds = self.bird[rows, column]
        rows, birds = np.array(sorted(set(zip(rows.tolist(), birds.tolist(), strict=True)))).T
        own = self.bird[rows] == birds[:, None]
        found, spread = self._solve(rows, out[rows] & ~own)
        line, place = np.nonzero(own)
        mean[rows[line], place] = found[line, place]
        variance[rows[line], place] = spread[line, place]

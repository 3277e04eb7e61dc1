"""How well each antenna of a pair hears a bird that crosses both.

A bird that goes in or out passes both antennas. Of the crossings that one of them heard, the share that the
other heard too is the efficiency of the other. Look-ins, look-outs and sittings cross one antenna only: they
are no trials and must be left out, or the antenna that was never passed seems deaf.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import betaln

from audit.models.interval import Share, wilson
from audit.models.recapture import Missed, missed

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = [
    "BIAS",
    "Differing",
    "Pair",
    "differing",
    "pairs_by",
    "rule_of_none",
    "shrunken",
    "spread_of",
]

#: What the estimate does not see, in one sentence.
BIAS = (
    "Birds differ in how well their tags are heard: the estimate is the mean of the squared chances over the "
    "mean chance, so it is too high, and too few crossings seem to be missed by both antennas."
)


@dataclass(frozen=True, slots=True)
class Pair:
    """Crossings by which antenna heard them.

    Attributes
    ----------
    outer, inner : int
        Crossings heard by the outer and by the inner antenna.
    both : int
        Those heard by both.
    confidence : float
        Of the intervals.

    Notes
    -----
    The two antennas are taken to hear independently of each other, as two catches of one population are. The
    estimates are textbook ones: Lincoln-Petersen, Chapman (`audit.models.recapture`), and the variance of the
    latter by Seber, G. A. F. (1970), Biometrics 26, 13-22 (from memory).

    Examples
    --------
    >>> pair = Pair(180, 190, 171)
    >>> pair.outer_share.value, pair.inner_share.value
    (0.9, 0.95)
    >>> round(pair.missed.total, 2), round(pair.missed.estimate, 1)
    (199.99, 1.0)
    """

    outer: int
    inner: int
    both: int
    confidence: float = 0.95

    def __post_init__(self) -> None:
        if not 0 <= self.both <= min(self.outer, self.inner):
            raise ValueError(f"{self.both} crossings cannot be among {self.outer} and among {self.inner}.")

    @property
    def outer_share(self) -> Share:
        """Efficiency of the outer antenna, with its interval: those of the inner that it heard too."""
        return wilson(self.both, self.inner, self.confidence)

    @property
    def inner_share(self) -> Share:
        """Efficiency of the inner antenna, with its interval."""
        return wilson(self.both, self.outer, self.confidence)

    @property
    def heard(self) -> int:
        """Crossings heard by at least one antenna."""
        return self.outer + self.inner - self.both

    @property
    def either(self) -> float:
        """Chance that at least one antenna hears a crossing."""
        return 1 - (1 - self.outer_share.value) * (1 - self.inner_share.value)

    @property
    def directed(self) -> float:
        """Chance that both hear it, so that its direction is known."""
        return self.outer_share.value * self.inner_share.value

    @property
    def lincoln_petersen(self) -> float:
        """Crossings in all; infinite where none was heard by both."""
        return self.outer * self.inner / self.both if self.both else float("inf")

    @property
    def missed(self) -> Missed:
        """Crossings that neither antenna heard, with their interval, and by it all crossings: Chapman's."""
        return missed(self.outer - self.both, self.inner - self.both, self.both, self.confidence)

    @property
    def chapman_variance(self) -> float:
        """Variance of Chapman's number of crossings."""
        n, k, m = self.outer, self.inner, self.both
        return (n + 1) * (k + 1) * (n - m) * (k - m) / ((m + 1) ** 2 * (m + 2))


def pairs_by(of: Ints, outer: Flags, inner: Flags, confidence: float = 0.95) -> dict[int, Pair]:
    """Count crossings by box, by tag, or by whatever `of` says.

    Parameters
    ----------
    of : numpy.ndarray of int, shape (n,)
        Code of the box, tag or piece of each crossing.
    outer, inner : numpy.ndarray of bool, shape (n,)
        Whether that antenna heard it; look-ins, look-outs and sittings left out.
    confidence : float
        Of the intervals.

    Returns
    -------
    dict of int to Pair
        By code, in its order.
    """
    codes, place = np.unique(of, return_inverse=True)
    counts = [
        np.bincount(place, weights=heard, minlength=len(codes)).astype(np.int64).tolist()
        for heard in (outer, inner, outer & inner)
    ]
    return {
        code: Pair(o, i, both, confidence) for code, o, i, both in zip(codes.tolist(), *counts, strict=True)
    }


def rule_of_none(trials: int, confidence: float = 0.95) -> float:
    """Return the largest share of misses that goes with none in so many trials.

    Parameters
    ----------
    trials : int
        All heard.
    confidence : float
        One-sided.

    Returns
    -------
    float
        ``1 - (1 - confidence) ** (1 / trials)``; about 3 in `trials` at 0.95.

    Examples
    --------
    >>> round(rule_of_none(20), 3)
    0.139
    """
    if trials < 1:
        return 1.0
    return float(1 - (1 - confidence) ** (1 / trials))


@dataclass(frozen=True, slots=True)
class Differing:
    """What the paired estimate makes of birds that differ.

    Attributes
    ----------
    mean : float
        Mean chance to be heard.
    seeming : float
        What the paired estimate tends to: the mean of the squared chances over the mean.
    missed, missed_seeming : float
        Share of crossings that neither of two such antennas hears, and what the estimate says of it.
    """

    mean: float
    seeming: float
    missed: float
    missed_seeming: float


def differing(chance: Floats, share: Floats) -> Differing:
    """Say how far the paired estimate is off where tags are not heard equally well.

    Parameters
    ----------
    chance : numpy.ndarray of float, shape (k,)
        Chance that an antenna hears a crossing, by kind of bird; both antennas alike.
    share : numpy.ndarray of float, shape (k,)
        Share of crossings by that kind; they add up to 1.

    Returns
    -------
    Differing

    Notes
    -----
    Both antennas hear a bird of chance p with p squared, so the share of the one's crossings that the other
    hears is E[p^2] / E[p], which is above E[p] by the variance of p over its mean.

    Examples
    --------
    >>> birds = differing(np.array([0.95, 0.30]), np.array([0.8, 0.2]))
    >>> round(birds.mean, 2), round(birds.seeming, 3), round(birds.missed, 3)
    (0.82, 0.902, 0.1)
    """
    mean = float((share * chance).sum())
    seeming = float((share * chance**2).sum()) / mean
    return Differing(mean, seeming, float((share * (1 - chance) ** 2).sum()), (1 - seeming) ** 2)


def spread_of(hits: Floats, trials: Floats, about: float, spreads: Floats) -> float:
    """Find how alike boxes are: the number of trials that the mean of all is worth.

    Parameters
    ----------
    hits, trials : numpy.ndarray of float, shape (k,)
        By box.
    about : float
        The mean of all, between 0 and 1.
    spreads : numpy.ndarray of float, shape (s,)
        Numbers of trials to choose among.

    Returns
    -------
    float
        The likeliest, if the efficiencies of boxes follow a beta distribution.
    """
    a, b = about * spreads[:, None], (1 - about) * spreads[:, None]
    log = betaln(a + hits, b + trials - hits) - betaln(a, b)
    return float(spreads[np.argmax(log.sum(axis=1))])


def shrunken(hits: Floats, trials: Floats, prior: float, worth: float, most: float) -> Floats:
    """Draw the efficiency of each box towards that of all boxes, the more the fewer its crossings.

    Parameters
    ----------
    hits, trials : numpy.ndarray of float, shape (k,)
        Crossings that this antenna heard, among those that the other heard, by box; may be sums of weights.
    prior : float
        Efficiency believed before any crossing.
    worth : float
        Trials that `prior` is worth against the mean of all boxes.
    most : float
        The most trials that the mean of all is worth to one box, so that a box with many crossings speaks for
        itself.

    Returns
    -------
    numpy.ndarray of float, shape (k,)
        Mean of a beta distribution with the hits and misses of the box added.
    """
    about = float((hits.sum() + worth * prior) / (trials.sum() + worth))
    spread = spread_of(hits, trials, about, np.geomspace(1.0, most, 25)) if len(hits) > 1 else worth
    found: Floats = (hits + spread * about) / (trials + spread)
    return found

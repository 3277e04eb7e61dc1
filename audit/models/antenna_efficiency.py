"""How well each antenna of a pair hears a bird that crosses both: few crossings drawn towards all.

A bird that goes in or out passes both antennas. Of the crossings that one of them heard, the share that the
other heard too is the efficiency of the other. Look-ins, look-outs and sittings cross one antenna only: they
are no trials and must be left out, or the antenna that was never passed seems deaf.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.special import betaln

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["shrunken", "spread_of"]


def spread_of(hits: Floats, trials: Floats, about: float | Floats, spreads: Floats) -> float:
    """Find how alike boxes, or birds, are: the number of trials that their mean is worth.

    Parameters
    ----------
    hits, trials : numpy.ndarray of float, shape (k,)
        By box or bird.
    about : float, or numpy.ndarray of float, shape (k,)
        The mean of all, or of those that each is one of, between 0 and 1.
    spreads : numpy.ndarray of float, shape (s,)
        Numbers of trials to choose among.

    Returns
    -------
    float
        The likeliest, if their efficiencies follow a beta distribution.
    """
    a, b = about * spreads[:, None], (1.0 - about) * spreads[:, None]
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

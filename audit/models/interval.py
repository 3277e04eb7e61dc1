"""How far a share of few trials can be trusted."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from statistics import NormalDist

from scipy.special import betaincinv

__all__ = ["Share", "exact", "score_ends", "wilson"]


@dataclass(frozen=True, slots=True)
class Share:
    """A share of trials with its interval.

    Attributes
    ----------
    hits, trials : int
        How many of how many.
    low, high : float
        Ends of the interval, 0 to 1.
    """

    hits: int
    trials: int
    low: float
    high: float

    @property
    def value(self) -> float:
        """The share itself; not a number without trials."""
        return self.hits / self.trials if self.trials else float("nan")


def wilson(hits: int, trials: int, confidence: float) -> Share:
    """Score interval of a share.

    Parameters
    ----------
    hits, trials : int
        How many of how many; without trials the interval is all of 0 to 1.
    confidence : float
        Such as 0.95.

    Returns
    -------
    Share
        With the ends of the interval.

    Raises
    ------
    ValueError
        Fewer trials than hits, or a count below nought.

    References
    ----------
    Wilson, E. B. (1927). Probable inference, the law of succession, and statistical inference. Journal of the
    American Statistical Association 22(158), 209-212.

    Examples
    --------
    >>> share = wilson(9, 10, 0.95)
    >>> round(share.low, 3), round(share.high, 3)
    (0.596, 0.982)
    """
    if not 0 <= hits <= trials:
        raise ValueError(f"{hits} of {trials} is no share.")
    if not trials:
        return Share(0, 0, 0.0, 1.0)
    return Share(hits, trials, *score_ends(hits / trials, trials, confidence))


def score_ends(value: float, trials: float, confidence: float) -> tuple[float, float]:
    """Give the ends of the score interval of a share, for trials that are worth less than their number.

    Parameters
    ----------
    value : float
        The share, 0 to 1.
    trials : float
        Above 0; need not be whole.
    confidence : float
        Such as 0.95.

    Returns
    -------
    tuple of float
        As by `wilson`.
    """
    z2 = NormalDist().inv_cdf((1 + confidence) / 2) ** 2
    middle = (value * trials + z2 / 2) / (trials + z2)
    half = sqrt(z2 * (value * (1 - value) * trials + z2 / (2 * 2))) / (trials + z2)
    # the ends are exact where all or none were hit, and rounding must not step over them
    low = 0.0 if value == 0 else max(0.0, middle - half)
    high = 1.0 if value == 1 else min(1.0, middle + half)
    return low, high


def exact(hits: int, trials: int, confidence: float) -> Share:
    """Exact interval of a share: it holds the true share at least as often as it says, also of few trials.

    Parameters
    ----------
    hits, trials : int
        How many of how many; without trials the interval is all of 0 to 1.
    confidence : float
        Such as 0.95.

    Returns
    -------
    Share
        With the ends of the interval, quantiles of beta distributions: of ``hits`` and
        ``trials - hits + 1`` the lower, of ``hits + 1`` and ``trials - hits`` the upper.

    Raises
    ------
    ValueError
        Fewer trials than hits, or a count below nought.

    References
    ----------
    Clopper, C. J. & Pearson, E. S. (1934). The use of confidence or fiducial limits illustrated in the case
    of the binomial. Biometrika 26(4), 404-413.

    Examples
    --------
    >>> share = exact(9, 10, 0.95)
    >>> round(share.low, 3), round(share.high, 3)
    (0.555, 0.997)
    """
    if not 0 <= hits <= trials:
        raise ValueError(f"{hits} of {trials} is no share.")
    tail = (1 - confidence) / 2
    low = float(betaincinv(hits, trials - hits + 1, tail)) if hits else 0.0
    high = float(betaincinv(hits + 1, trials - hits, 1 - tail)) if hits < trials else 1.0
    return Share(hits, trials, low, high)

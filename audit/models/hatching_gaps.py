"""How far apart the young of one brood hatch: a row of gaps, one after each egg but the last.

Where incubation begins before the clutch is whole, young hatch one after the other, so that their ages differ
the more the more of them there are, while nobody is far from the next one. Days throughout.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

__all__ = ["HatchingGaps", "log_age_beside", "variance_within"]


@dataclass(frozen=True, slots=True)
class HatchingGaps:
    """Days between one hatchling and the next that is met: a gamma distribution.

    Attributes
    ----------
    mean, sd : float
        Days.
    """

    mean: float
    sd: float

    def stretched(self, times: float) -> HatchingGaps:
        """Make all gaps so many times as long."""
        return HatchingGaps(self.mean * times, self.sd * times)


def variance_within(gaps: HatchingGaps, young: ArrayLike) -> Floats:
    """Variance of ages about the mean of their brood, as it is estimated with one less than its young.

    Parameters
    ----------
    gaps : HatchingGaps
    young : array_like
        How many young, any shape; one alone counts as two.

    Returns
    -------
    numpy.ndarray
        Square days: half the mean square of the difference of two young, which lie ``k`` gaps apart with mean
        ``k * mean`` and variance ``k * sd**2``; over all pairs of ``n`` young, ``k`` has the mean
        ``(n + 1) / 3`` and ``k**2`` the mean ``n * (n + 1) / 6``.
    """
    n = np.maximum(np.asarray(young, dtype=np.float64), 2)
    # means of k and of its square over the pairs of n things in a row
    once, squared = (n + 1) / 3, n * (n + 1) / (2 * 3)
    return np.asarray((gaps.sd**2 * once + gaps.mean**2 * squared) / 2, dtype=np.float64)


def log_age_beside(gaps: HatchingGaps, ages: Floats, youngest: Floats, oldest: Floats) -> Floats:
    """Log of how usual each age is beside those of a bird's siblings, the likeliest ones being 0.

    Between the youngest and the oldest sibling every age is as good as another; beyond them the distance
    from the nearer one is one gap.

    Parameters
    ----------
    gaps : HatchingGaps
    ages : numpy.ndarray, shape (g,)
        Ages tried.
    youngest, oldest : numpy.ndarray, shape (n,)
        Of the siblings.

    Returns
    -------
    numpy.ndarray, shape (n, g)

    References
    ----------
    Young hatch as events of a renewal process; one more beyond the last adds the density of one gap (Cox
    1962, Renewal Theory, Methuen, chapter 1).
    """
    beyond = np.maximum(youngest[:, None] - ages, ages - oldest[:, None])
    shape = (gaps.mean / gaps.sd) ** 2
    scale = gaps.sd**2 / gaps.mean
    # a gap is hardly ever nought, but siblings may be of any age up to the likeliest gap apart
    usual = max(shape - 1, 0.0) * scale
    far = np.maximum(beyond, usual)
    if shape <= 1:
        return np.asarray(-np.maximum(far, 0.0) / scale, dtype=np.float64)
    top = (shape - 1) * log(usual) - usual / scale
    return np.asarray((shape - 1) * np.log(far) - far / scale - top, dtype=np.float64)

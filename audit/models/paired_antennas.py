"""How well each antenna of a pair hears: of the crossings that the other heard, how many it heard, too.

A bird that goes in or out passes both antennas, so the two hear like two catches of one population. Looks and
rests cross one antenna only: they are no trials and must be left out, or the antenna that was never passed
seems deaf.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.models.interval import Share, wilson
from audit.models.recapture import Missed, missed

if TYPE_CHECKING:
    from audit.models.reads import Crossings

__all__ = ["BIAS", "PairedAntennas", "paired"]

#: What the estimate and its interval do not see.
BIAS = (
    "The intervals hold what chance alone does. Where birds differ in how well their tags are heard, such a "
    "share is too high, and both antennas miss more crossings than it says; looks at the entrance that are "
    "taken for passages make it too low."
)


@dataclass(frozen=True, slots=True)
class PairedAntennas:
    """Crossings of one box by which of its two antennas heard them.

    Attributes
    ----------
    outer, inner : int
        Crossings heard by the outer and by the inner antenna.
    both : int
        Those heard by both.
    confidence : float
        Of the intervals.

    Raises
    ------
    ValueError
        More were heard by both than by one.

    Notes
    -----
    The two antennas are taken to hear independently of each other. The estimates are textbook ones:
    Lincoln-Petersen, Chapman (`audit.models.recapture`), and the variance of the latter by Seber, G. A. F.
    (1970), Biometrics 26, 13-22 (from memory). Where a crossing is heard with chance p that differs between
    birds, the share of the one's crossings that the other heard too tends to E[p^2] / E[p], which is above
    E[p] by the variance of p over its mean.

    Examples
    --------
    >>> pair = PairedAntennas(180, 190, 171)
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
    def missed(self) -> Missed:
        """Crossings that neither antenna heard, with their interval, and by it all crossings: Chapman's."""
        return missed(self.outer - self.both, self.inner - self.both, self.both, self.confidence)

    @property
    def chapman_variance(self) -> float:
        """Variance of Chapman's number of crossings."""
        n, k, m = self.outer, self.inner, self.both
        return (n + 1) * (k + 1) * (n - m) * (k - m) / ((m + 1) ** 2 * (m + 2))


def paired(crossed: Crossings, confidence: float) -> dict[int, PairedAntennas]:
    """Give the pair of each box, in whole crossings.

    Parameters
    ----------
    crossed : Crossings
        Expected numbers; rounded to the nearest.
    confidence : float
        Of the intervals.

    Returns
    -------
    dict of int to PairedAntennas
        By code of the box; boxes of which no crossing was heard are left out.
    """
    found = {}
    columns = (crossed.box, crossed.both, crossed.outer_only, crossed.inner_only)
    for box, *counts in zip(*(one.tolist() for one in columns), strict=True):
        both, outer, inner = (round(one) for one in counts)
        if both + outer + inner:
            found[box] = PairedAntennas(both + outer, both + inner, both, confidence)
    return found

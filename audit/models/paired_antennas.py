"""How well each antenna of a pair hears: of the crossings that the other heard, how many it heard, too.

A bird that goes in or out passes both antennas, so the two hear like two catches of one population. Looks and
rests cross one antenna only: they are no trials and must be left out, or the antenna that was never passed
seems deaf.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.antenna_efficiency import spread_of
from audit.models.interval import Share, score_ends, wilson
from audit.models.recapture import Missed, missed

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.reads import Crossings

    Floats = NDArray[np.float64]

__all__ = ["BIAS", "PairedAntennas", "paired"]

#: What the estimate and its interval do not see.
BIAS = (
    "The intervals hold chance, and that birds differ in how well their tags are heard. Where they differ, "
    "such a share is too high, and both antennas miss more crossings than it says; looks at the entrance "
    "that are taken for passages make it too low."
)
#: Numbers of trials among which the one is chosen that tells how alike birds are; the last is: all alike.
_SPREADS = np.geomspace(1.0, 10_000.0, 33)
#: A share of all or none would leave no room for birds that differ.
_INSIDE = 1e-3


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
    worth : tuple of two float
        What a crossing is worth for the share of the outer and of the inner antenna, 0 to 1: less than one
        where birds differ, since many crossings of one bird tell of that bird only.

    Raises
    ------
    ValueError
        More were heard by both than by one.

    Notes
    -----
    The two antennas are taken to hear independently of each other. The estimates are textbook ones:
    Lincoln-Petersen, Chapman (`audit.models.recapture`), and the variance of the latter, as in the manual of
    the R package recapr (vChapman). Where a crossing is heard with chance p that differs between birds, the
    share of the one's crossings that the other heard too tends to E[p^2] / E[p], which is above E[p] by the
    variance of p over its mean.

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
    worth: tuple[float, float] = (1.0, 1.0)

    def __post_init__(self) -> None:
        if not 0 <= self.both <= min(self.outer, self.inner):
            raise ValueError(f"{self.both} crossings cannot be among {self.outer} and among {self.inner}.")

    @property
    def outer_share(self) -> Share:
        """Efficiency of the outer antenna, with its interval: those of the inner that it heard too."""
        return self._share(self.inner, self.worth[0])

    @property
    def inner_share(self) -> Share:
        """Efficiency of the inner antenna, with its interval."""
        return self._share(self.outer, self.worth[1])

    def _share(self, trials: int, worth: float) -> Share:
        if not trials:
            return wilson(0, 0, self.confidence)
        ends = score_ends(self.both / trials, trials * worth, self.confidence)
        return Share(self.both, trials, *ends)

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
        Expected numbers by bird; those of a box are rounded to the nearest.
    confidence : float
        Of the intervals.

    Returns
    -------
    dict of int to PairedAntennas
        By code of the box, in order; boxes of which no crossing was heard are left out.

    Notes
    -----
    How much birds differ is taken from all boxes: efficiencies of the birds of a box follow a beta
    distribution about that of the box, as alike as is likeliest (`antenna_efficiency.spread_of`).
    Of such birds, n crossings each, the share varies ``1 + (n - 1) rho`` times as much as by chance, rho
    being one over the spread and one (Williams, D. A. 1982, Applied Statistics 31, 144-148: extra-binomial
    variation, from memory).
    """
    boxes, place = np.unique(crossed.box, return_inverse=True)
    counts = np.stack([crossed.both, crossed.outer_only, crossed.inner_only])
    of_boxes = np.stack([np.bincount(place, one, len(boxes)) for one in counts])
    worth = [_worth(counts[0], counts[0] + counts[other], place, len(boxes)) for other in (2, 1)]
    found = {}
    for nr, box in enumerate(boxes.tolist()):
        both, outer, inner = (round(one) for one in of_boxes[:, nr].tolist())
        if both + outer + inner:
            of_sides = float(worth[0][nr]), float(worth[1][nr])
            found[box] = PairedAntennas(both + outer, both + inner, both, confidence, of_sides)
    return found


def _worth(hits: Floats, trials: Floats, place: NDArray[np.intp], boxes: int) -> Floats:
    """Tell what a crossing is worth for the share of one antenna, by box."""
    if not trials.any():
        return np.ones(boxes)
    of_box = [np.bincount(place, one, boxes) for one in (hits, trials)]
    share = np.clip(of_box[0] / np.maximum(of_box[1], _INSIDE), _INSIDE, 1 - _INSIDE)
    rho = 1 / (spread_of(hits, trials, share[place], _SPREADS) + 1)
    spread = np.bincount(place, trials * (1 + np.maximum(trials - 1, 0) * rho), boxes)
    worth: Floats = np.where(of_box[1] > 0, of_box[1] / np.maximum(spread, _INSIDE), 1.0)
    return worth

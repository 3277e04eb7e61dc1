"""How much the nestlings of a season differ."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.hatching_gaps import variance_within

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models import effects, growth
    from audit.models.hatching_gaps import HatchingGaps
    from audit.models.kinship import Shares

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["Effects"]


@dataclass(frozen=True, slots=True)
class Effects:
    """How much the birds of this season differ: learnt from them, drawn towards what is declared.

    Attributes
    ----------
    wing_factor : growth.Factor
        How many times longer wings of nestlings are than the curve says.
    wing_noise, wing_visit : float
        Variance of wings about the bird's own track, and of what the birds of one visit have in common, mm2.
    first_age, age_between, age_within : float
        Usual age at the first visit to a brood, days; variances between broods and within them.
    gaps : HatchingGaps, optional
        Days between one hatchling and the next; then the variance within a brood goes with its young, and
        `age_within` is that of a usual brood.
    mass : Shares
        Variances of mass given wing, in declared variances.
    mass_noise : float
    log_wing, log_mass : effects.OneWay
        Logarithms of species whose wings tell no age.
    """

    wing_factor: growth.Factor
    wing_noise: float
    wing_visit: float
    first_age: float
    age_between: float
    age_within: float
    gaps: HatchingGaps | None
    mass: Shares
    mass_noise: float
    log_wing: effects.OneWay
    log_mass: effects.OneWay

    def age_variance(self, young: Ints) -> float | Floats:
        """Variance of ages within broods of so many young, square days."""
        return self.age_within if self.gaps is None else variance_within(self.gaps, young)

    @property
    def track_sd(self) -> float:
        """Standard deviation of a wing about what the bird's own earlier wing foretells, mm."""
        return float(np.sqrt(2 * (self.wing_noise + self.wing_visit)))

    @property
    def mass_sd(self) -> float:
        """Standard deviation of mass given wing among all birds, in declared spreads."""
        shares = self.mass
        return float(np.sqrt(shares.brood + shares.bird + shares.visit + self.mass_noise))

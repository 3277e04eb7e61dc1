"""How much the nestlings of a season differ."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from audit.models import effects, growth
    from audit.models.kinship import Shares

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
    mass: Shares
    mass_noise: float
    log_wing: effects.OneWay
    log_mass: effects.OneWay

    @property
    def track_sd(self) -> float:
        """Standard deviation of a wing about what the bird's own earlier wing foretells, mm."""
        return float(np.sqrt(2 * (self.wing_noise + self.wing_visit)))

    @property
    def mass_sd(self) -> float:
        """Standard deviation of mass given wing among all birds, in declared spreads."""
        shares = self.mass
        return float(np.sqrt(shares.brood + shares.bird + shares.visit + self.mass_noise))

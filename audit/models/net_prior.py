"""Net mass to expect of each row."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["NetPrior"]

_TEN = 10
_LEAST = float(np.finfo(np.float64).tiny)


@dataclass(frozen=True, slots=True)
class NetPrior:
    """Net mass to expect of each row: bell-shaped with long tails, mixed with a flat part for runts.

    Attributes
    ----------
    expected, sd : ndarray, shape (n,)
        g; where one is missing the prior is flat.
    span_g : float
        Width of the flat part, g.
    any_share : float
        Weight of the flat part.
    freedom : float
        Degrees of freedom of the bell (Student's t): small for long tails.
    """

    expected: Floats
    sd: Floats
    span_g: float
    any_share: float
    freedom: float

    def of(self, rows: Ints) -> NetPrior:
        """Return the prior of some rows only."""
        return NetPrior(self.expected[rows], self.sd[rows], self.span_g, self.any_share, self.freedom)

    def log_chance(self, mass: Floats, unit: Floats) -> Floats:
        """Log probability of a net mass, one per row."""
        known = np.isfinite(self.expected) & np.isfinite(self.sd) & (self.sd > 0)
        # a spread far below the last digit is that of numbers that are no masses
        sd = np.maximum(np.where(known, self.sd, 1.0), unit / _TEN)
        z = np.where(known, (mass - np.where(known, self.expected, 0.0)) / sd, 0.0)
        bell = _student(z, self.freedom) / sd
        flat = 1.0 / self.span_g
        density = np.where(known, (1 - self.any_share) * bell + self.any_share * flat, flat) * unit
        return np.log(np.where(np.isfinite(mass) & (mass > 0), np.clip(density, _LEAST, 1.0), _LEAST))


def _student(z: Floats, freedom: float) -> Floats:
    """Density of Student's t: written out, since this runs over every row several times."""
    half = (freedom + 1) / 2
    top = float(np.exp(math.lgamma(half) - math.lgamma(freedom / 2))) / float(np.sqrt(freedom * np.pi))
    density: Floats = top * (1 + z**2 / freedom) ** -half
    return density

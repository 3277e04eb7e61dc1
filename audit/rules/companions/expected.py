"""What is expected of a nestling."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["Expected"]


@dataclass(frozen=True, slots=True)
class Expected:
    """What is expected of each bird, its own measures at this visit left out; shape (n,), missing if nothing.

    Attributes
    ----------
    age, age_sd : numpy.ndarray
        Days since hatching, as told by wings; where wings tell none, how sure recorded ages are.
    youngest, oldest : numpy.ndarray
        Days since hatching of the siblings that day, as told by their wings.
    shift, left : numpy.ndarray
        Deviation of mass given wing, and its standard deviation, in declared spreads.
    log_wing, log_wing_sd, log_mass, log_mass_sd : numpy.ndarray
        Logarithms, for species whose wings tell no age.
    told, own : numpy.ndarray of float
        How many others of the brood were measured; how many of them are other visits of the bird.
    """

    age: Floats
    age_sd: Floats
    youngest: Floats
    oldest: Floats
    shift: Floats
    left: Floats
    log_wing: Floats
    log_wing_sd: Floats
    log_mass: Floats
    log_mass_sd: Floats
    told: Floats
    own: Floats

    @classmethod
    def nothing(cls, n: int, left: float) -> Expected:
        """Say nothing of n birds, but how widely masses scatter."""
        missing = {name: np.full(n, np.nan) for name in cls.__dataclass_fields__}
        known = {"shift": np.zeros(n), "left": np.full(n, left), "told": np.zeros(n), "own": np.zeros(n)}
        return cls(**{**missing, **known})

    def of(self, rows: NDArray[np.generic]) -> Expected:
        """Return what is expected of some birds."""
        return Expected(**{name: getattr(self, name)[rows] for name in self.__dataclass_fields__})

    @classmethod
    def one_by_one(cls, parts: Sequence[Expected]) -> Expected:
        """Put what is expected of some birds together."""
        return cls(
            **{
                name: np.concatenate([getattr(one, name) for one in parts])
                for name in cls.__dataclass_fields__
            }
        )

    def put(self, rows: NDArray[np.generic], other: Expected) -> None:
        """Take over what another says of some birds."""
        for name in self.__dataclass_fields__:
            getattr(self, name)[rows] = getattr(other, name)

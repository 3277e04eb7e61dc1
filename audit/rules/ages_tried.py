"""What one measure of nestlings is at each age that is tried: worked out once, asked for every bird."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models import growth

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["AtAges", "at_ages", "step_sd"]

#: Variance of what lies anywhere within one step: the square of the step over this.
_TWELVE = 2 * 2 * (2 + 1)


@dataclass(frozen=True, slots=True)
class AtAges:
    """One measure of nestlings at each age tried, this season's factor included.

    Attributes
    ----------
    centre, sd, log_sd : numpy.ndarray, shape (g,)
        Usual size and its spread, g or mm, and the logarithm of the spread.
    pace : numpy.ndarray, shape (g,)
        Growth a day of the declared curve, g or mm.
    first, last : int
        Places of the first and the last age for which the curve holds.
    """

    centre: Floats
    sd: Floats
    log_sd: Floats
    pace: Floats
    first: int
    last: int


def at_ages(curve: growth.Curve, days: Floats, factor: float, own_sd: float | None) -> AtAges:
    """Work out a measure at each age tried.

    Parameters
    ----------
    days : numpy.ndarray, shape (g,)
        Ages tried, in even steps.
    factor : float
        How many times larger than declared the birds of the season are.
    own_sd : float, optional
        Spread of a wing about its own track where the curve ends, mm; else the spread is the declared one.
    """
    centre = growth.mean(curve, days) * factor
    pace = growth.pace(curve, days)
    sd = growth.spread(curve, days) * factor
    if own_sd is not None:
        sd = sd * (own_sd / float(growth.spread(curve, curve.last_day)))
        # ages are tried in steps, and a wing grows from one to the next
        sd = np.hypot(sd, pace * step_sd(days))
    first, last = np.searchsorted(days, [curve.first_day, curve.last_day])
    return AtAges(centre, sd, np.log(sd), pace, int(first), int(last))


def step_sd(days: Floats) -> float:
    """Give the standard deviation of an age that lies anywhere within one step: (b - a) / sqrt(12)."""
    return float((days[1] - days[0]) / np.sqrt(_TWELVE))

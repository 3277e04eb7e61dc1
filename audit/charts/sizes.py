"""Sizes of birds in one plane: what stands across, what stands up, and how much room both need."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.charts.marked import room
from audit.charts.suspected import known_day

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.charts.handled import Handled
    from audit.charts.suspected import Meant

    Floats = NDArray[np.float64]

__all__ = ["TITLES", "Plane", "Sizes", "fitting_room", "sizes_of", "spot"]

#: What stands along an axis.
TITLES = {"mass": "net mass, g", "wing": "wing, mm", "age": "age, days", "day": "day"}

#: Values farther than so many times the middle half of all from it do not widen an axis.
_FAR, _QUARTER = 2.5, 0.25
#: The middle half spans at least this share of the middle.
_STRETCH = 0.1


@dataclass(frozen=True, slots=True)
class Plane:
    """What stands across and what stands up."""

    x: str
    y: str


@dataclass(frozen=True, slots=True)
class Sizes:
    """Mass in grams, wing in millimetres, age in days, and day since 1970, of all rows or of one.

    Attributes
    ----------
    mass : numpy.ndarray, shape (n,)
        Net, or gross less bag where net is missing.
    wing, age, day : numpy.ndarray, shape (n,)
        Age from the day of hatching, or as estimated where that is missing.
    """

    mass: Floats
    wing: Floats
    age: Floats
    day: Floats

    def along(self, name: str) -> Floats:
        """Return what stands along an axis."""
        values: Floats = getattr(self, name)
        return values


def sizes_of(handled: Handled) -> Sizes:
    """Take the sizes of all rows as typed."""
    numbers = handled.numbers
    day = np.where(handled.order_known, handled.day.astype(np.float64), np.nan)
    rest = numbers["gross_g"] - numbers["bag_g"]
    since = day - handled.hatched
    return Sizes(
        mass=np.where(np.isfinite(numbers["net_g"]), numbers["net_g"], rest),
        wing=numbers["wing_mm"],
        age=np.where(np.isfinite(since), since, numbers["age_days"]),
        day=day,
    )


def spot(handled: Handled, row: int, plane: Plane, meant: Meant | None = None) -> tuple[float, float]:
    """Place one row, as typed or as it was perhaps meant; NaN where it has no place."""

    def number(name: str) -> float:
        typed = float(handled.numbers[name][row])
        return typed if meant is None else meant.number(name, typed)

    def when(name: str, typed: float) -> float:
        return typed if meant is None else meant.day(name, typed)

    net, rest = number("net_g"), number("gross_g") - number("bag_g")
    day = when("date", known_day(handled.day[row]))
    since = day - when("hatch_date", float(handled.hatched[row]))
    told = {
        "mass": net if np.isfinite(net) else rest,
        "wing": number("wing_mm"),
        "age": since if np.isfinite(since) else number("age_days"),
        "day": day,
    }
    return told[plane.x], told[plane.y]


def fitting_room(
    crowd: Floats, near: Sequence[float], typed: Sequence[float], margin: float = 0.06, least: float = 0.0
) -> tuple[float, float] | None:
    """Choose the range of an axis by what is usual, so that a value ten times too large does not flatten it.

    Parameters
    ----------
    crowd : numpy.ndarray
        Values of birds that the finding is not about; NaN where missing.
    near : sequence of float
        Values that should be seen: the brood, the bird at other visits, what was probably meant.
    typed : sequence of float
        Values in doubt: seen where they are not far off.
    margin : float
        Left free at both ends, as a share of the range.
    least : float
        The range spans at least this share of its middle.

    Returns
    -------
    (float, float) or None
        None where there is no value at all. What lies beyond stands at the edge.
    """
    known = crowd[np.isfinite(crowd)]
    close = [value for value in near if np.isfinite(value)]
    doubtful = [value for value in typed if np.isfinite(value)]
    every = np.array([*known.tolist(), *close] or doubtful)
    if not len(every):
        return None
    # a season may hold other slips than this one: far ones do not count, however many birds there are
    lower, middle, upper = np.quantile(every, [_QUARTER, 1 / 2, 1 - _QUARTER]).tolist()
    reach = max(upper - lower, abs(middle) * _STRETCH) * _FAR
    usual = every[(every >= lower - reach) & (every <= upper + reach)]
    low, high = float(usual.min()), float(usual.max())
    wide = (high - low) or max(abs(high), 1.0) * _STRETCH
    seen = [low, high]
    seen += [value for value in close if low - wide <= value <= high + wide]
    half = 1 / 2
    seen += [value for value in doubtful if low - wide * half <= value <= high + wide * half]
    middle, reach = (min(seen) + max(seen)) * half, (min(seen) + max(seen)) * half * least * half
    return room([*seen, middle - reach, middle + reach], margin=margin)

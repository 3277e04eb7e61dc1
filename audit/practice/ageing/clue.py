"""What tells the age of a nestling: its wing, or its mass where no curve of the wing is declared."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtri

from audit.models.growth import age_of, age_sd, mean
from audit.practice.weighing_drill.balance import display_for

if TYPE_CHECKING:
    from audit.declarations import Declarations
    from audit.declarations.species import Species
    from audit.models.growth import Curve

__all__ = ["MASS", "WING", "AgeClue", "clues_of"]

WING, MASS = "wing_mm", "mass_g"
#: Steps of a day in which a curve is looked through for the ages that it tells.
_PER_DAY = 4


@dataclass(frozen=True, slots=True)
class AgeClue:
    """One measure by which nestlings of a species are aged.

    Attributes
    ----------
    measure : str
        `WING` or `MASS`.
    curve : Curve
    first, last : float
        Ages in days that are asked: there the interval is no wider than the days of ringing are long.
    window : (float, float)
        First and last day of ringing.
    deviations : float
        Half the width of the interval in standard deviations.
    decimals : int
        Of masses: tenths of birds that are weighed to tenths.
    """

    measure: str
    curve: Curve
    first: float
    last: float
    window: tuple[float, float]
    deviations: float
    decimals: int

    @property
    def is_wing(self) -> bool:
        """Whether it is the wing, so that broods can be told within the days of ringing."""
        return self.measure == WING

    def text(self, size: float) -> str:
        """Write a wing or mass as it is measured."""
        return f"{size:.0f}" if self.is_wing else f"{size:.{self.decimals}f}"

    def age(self, size: float) -> tuple[float, float, float]:
        """Age in days of a wing or mass as the curve gives it, with the ends of its interval.

        The ends are whole days, the interval and no less between them: ages are told in whole days, too.

        References
        ----------
        Spread over pace, the propagation of error to first order; normal quantiles.
        """
        age = float(age_of(self.curve, size))
        half = self.half(age)
        return age, float(np.floor(max(self.curve.first_day, age - half))), float(np.ceil(age + half))

    def half(self, age: float) -> float:
        """Half the width of the interval of an age, in days."""
        return self.deviations * float(age_sd(self.curve, age))

    def table(self, rows: int) -> list[tuple[float, float, float]]:
        """List ages in whole days, the mean measure of each, and to how many days an age is right there."""
        step = max(1, round((self.last - self.first) / rows))
        start = max(np.ceil(self.curve.first_day), np.floor(self.first))
        end = min(self.last + step, self.curve.last_day)
        return [
            (float(age), float(mean(self.curve, age)), float(np.ceil(self.half(float(age)))))
            for age in np.arange(start, end + 1 / _PER_DAY, step)
        ]


def clues_of(declared: Declarations) -> tuple[dict[str, AgeClue], dict[str, str]]:
    """Tell by what each species can be aged, and why others cannot.

    Returns
    -------
    dict of str to AgeClue, dict of str to str
        By species; the reason by species that is not offered.
    """
    offered, reasons = {}, {}
    for slug, species in declared.species.items():
        found = _clue(species, declared)
        if isinstance(found, AgeClue):
            offered[slug] = found
        else:
            reasons[slug] = found
    return offered, reasons


def _clue(species: Species, declared: Declarations) -> AgeClue | str:
    first, last = (species.number(f"ringing.{name}_day") for name in ("youngest", "oldest"))
    if first is None or last is None:
        return "its days of ringing are not declared"
    reasons = []
    for measure, name in ((WING, "wing"), (MASS, "mass")):
        curve = species.curves.get(measure)
        if curve is None:
            reasons.append(f"no curve of its {name} is declared")
        elif curve.recession is not None:
            reasons.append(f"the curve of its {name} falls again, so that one {name} has two ages")
        else:
            clue = _told(measure, curve, (first, last), _decimals(species, declared), declared)
            if clue is not None:
                return clue
            held = f"holds for days {curve.first_day:g} to {curve.last_day:g}"
            reasons.append(f"the curve of its {name} {held}, and tells ages apart too roughly there")
    return ", and ".join(reasons)


def _decimals(species: Species, declared: Declarations) -> int:
    curve = species.curves.get(MASS)
    return 0 if curve is None else display_for(float(mean(curve, curve.last_day)), declared).decimals


def _told(
    measure: str, curve: Curve, window: tuple[float, float], decimals: int, declared: Declarations
) -> AgeClue | None:
    """Find the ages that a curve tells, if they are enough."""
    level, beyond = (float(declared.settings[f"practice.ageing.{name}"].value) for name in _SETTINGS)
    deviations = float(ndtri((1 + level) / 2))
    first, last = max(curve.first_day, window[0] - beyond), min(curve.last_day, window[1] + beyond)
    if last <= first:
        return None
    ages = np.linspace(first, last, 1 + int(np.ceil((last - first) * _PER_DAY)))
    wide = 2 * deviations * np.asarray(age_sd(curve, ages))
    tells = (wide > 0) & (wide <= window[1] - window[0])
    # the longest run of ages, each of which is told
    ends = np.flatnonzero(np.diff(np.r_[False, tells, False].astype(int)))
    runs = list(zip(ends[::2], ends[1::2] - 1, strict=True))
    if not runs:
        return None
    start, end = max(runs, key=lambda run: run[1] - run[0])
    if ages[end] - ages[start] < wide[(start + end) // 2]:
        return None
    return AgeClue(measure, curve, float(ages[start]), float(ages[end]), window, deviations, decimals)


_SETTINGS = ("confidence", "beyond")

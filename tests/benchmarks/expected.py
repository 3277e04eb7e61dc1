"""What size could be expected of a bird from the rest of the sheet, if its growth were known perfectly?

A Gaussian model with the generator's own spreads, written around the truth: the age of the brood is known to
about a week at best, nest mates hatch some days apart, brood and bird depart from the mean in wing and mass,
every reading has its error. The expectation of one cell is conditioned on all other sizes and ages of the
brood that the sheet holds. No rule of the audit is used.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Collection

    from benchmarks.seasons import Made

__all__ = ["Expected", "expect"]

#: How well the age of a whole brood is known before anything is measured, days.
BROOD_AGE_SD = 8.0
#: How well a field estimate of the age hits the true age, days.
FIELD_AGE_SD = 1.7
#: An observed hatching date, days.
HATCH_SD = 0.5

WING, MASS, AGE = "wing", "mass", "age"


@dataclass(frozen=True)
class Expected:
    """Mean and standard deviation in the cell's own unit; the lowest value that a runt may have."""

    mean: float
    sd: float
    lowest: float

    def distance(self, value: float) -> float:
        """How many standard deviations a value lies off; runts and the starved count as expected."""
        if self.lowest <= value <= self.mean:
            return 0.0
        away = value - (self.mean if value > self.mean else self.lowest)
        return abs(away) / self.sd


def expect(made: Made, row: int, what: str, hidden: Collection[tuple[int, str]]) -> Expected:
    """Expect the wing or the net mass of one handling; `hidden` cells are not looked at."""
    truth = made.truth[row]
    if not truth.pullus:
        return _adult(made, row, what, hidden)
    spread = truth.spread
    rows = [i for i, other in enumerate(made.truth) if other.brood == truth.brood and other.pullus]
    birds = sorted({made.truth[i].bird for i in rows})
    n = len(birds)
    # state: age of the brood, age of each bird, wing of the brood and of each bird, mass likewise
    days_apart = max(0.5, spread.days_between * np.sqrt(max(0.0, n**2 - 1) / 12))
    prior = np.concatenate(
        [
            [BROOD_AGE_SD],
            np.full(n, days_apart),
            [spread.wing_brood],
            np.full(n, spread.wing_bird),
            [spread.mass_brood],
            np.full(n, spread.mass_bird),
        ]
    )

    def line(i: int, kind: str) -> np.ndarray:
        other = made.truth[i]
        place = birds.index(other.bird)
        design = np.zeros(len(prior))
        slope = {WING: other.wing_per_day, MASS: other.mass_per_day, AGE: 1.0}[kind]
        design[[0, 1 + place]] = slope
        if kind != AGE:
            start = 1 + n if kind == WING else 2 + 2 * n
            design[[start, start + 1 + place]] = 1
        return design

    def noise(i: int, kind: str) -> float:
        other = made.truth[i]
        return spread.wing_reading_mm / max(other.wing, 1) if kind == WING else spread.mass_day

    lines, seen, errors = [], [], []
    for i in rows:
        cells, other = made.tables["handlings"][i], made.truth[i]
        wing, mass = cells.get("wing_mm"), _mass(cells)
        if wing is not None and wing > 0 and (i, "wing_mm") not in hidden:
            lines.append(line(i, WING))
            seen.append(np.log(wing / other.wing))
            errors.append(noise(i, WING))
        masses = ("gross_g", "bag_g", "net_g")
        if mass is not None and mass > 0 and not any((i, name) in hidden for name in masses):
            lines.append(line(i, MASS))
            seen.append(np.log(mass / other.mass))
            errors.append(noise(i, MASS))
        for name, sd in (("hatch_date", HATCH_SD), ("age_days", FIELD_AGE_SD)):
            if cells.get(name) is not None and (i, name) not in hidden:
                lines.append(line(i, AGE))
                seen.append(float(cells["age_days"]) - other.age if name == "age_days" else 0.0)
                errors.append(sd)
    target = line(row, what)
    covariance = np.diag(prior**2)
    mean, variance = 0.0, float(target @ covariance @ target)
    if lines:
        design = np.array(lines)
        among = design @ covariance @ design.T + np.diag(np.array(errors) ** 2)
        gain = np.linalg.solve(among, design @ covariance @ target)
        mean = float(gain @ np.array(seen))
        variance -= float(gain @ (design @ covariance @ target))
    sd = float(np.sqrt(max(variance, 0.0) + noise(row, what) ** 2))
    middle = (truth.wing if what == WING else truth.mass) * float(np.exp(mean))
    own = [i for i in rows if made.truth[i].bird == truth.bird and i != row]
    # a runt stays a runt: its own other visit tells
    runts = 1.0 if own else spread.lightest if what == MASS else 1 - (1 - spread.lightest) * 0.25
    return Expected(middle, middle * sd, middle * runts)


def _mass(cells: dict[str, object]) -> float | None:
    net, gross, bag = (cells.get(name) for name in ("net_g", "gross_g", "bag_g"))
    if isinstance(net, float | int):
        return float(net)
    if isinstance(gross, float | int) and isinstance(bag, float | int):
        return float(gross) - float(bag)
    return None


def _adult(made: Made, row: int, what: str, hidden: Collection[tuple[int, str]]) -> Expected:
    truth = made.truth[row]
    middle, sd = (truth.wing, truth.wing_sd) if what == WING else (truth.mass, truth.mass_sd * 1.3)
    for i, other in enumerate(made.truth):
        if i == row or other.bird != truth.bird or other.pullus:
            continue
        cells = made.tables["handlings"][i]
        if what == WING and cells.get("wing_mm") and (i, "wing_mm") not in hidden:
            middle, sd = float(cells["wing_mm"]), 1.5 * truth.spread.wing_reading_mm
    return Expected(middle, sd, middle)

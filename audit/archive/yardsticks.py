"""What the declared species say of sizes, as tables that relations can be joined with."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models import growth

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd

    from audit.declarations.species import Species

__all__ = ["Yardsticks", "yardsticks_of"]

_TWICE = 2


@dataclass(frozen=True, slots=True)
class Yardsticks:
    """Tables of sizes to expect.

    Attributes
    ----------
    by_wing : pandas.DataFrame
        For each species (``kind``) and whole millimetre of wing (``wing_at``) of a nestling: ``wing_age`` in
        days, ``mass_for_wing`` in grams and ``log_sd``, the standard deviation of its logarithm; missing
        where no curve tells.
    by_age : pandas.DataFrame
        For each species and whole day (``age_at``): ``wing_for_age`` and ``wing_age_sd``, ``mass_for_age``
        and ``mass_age_sd``.
    by_kind : pandas.DataFrame
        For each species: ``wing_grown``, ``wing_grown_sd``, ``mass_grown``, ``mass_grown_sd``, of full-grown
        birds; ``wing_most``, ``mass_most``, what no bird exceeds; ``sibling_days``, ``wing_pace``: standard
        deviation of the ages of siblings, and the most that a wing grows in a day.
    """

    by_wing: pd.DataFrame
    by_age: pd.DataFrame
    by_kind: pd.DataFrame


def yardsticks_of(species: Mapping[str, Species], *, margin: float, sibling_days: float) -> Yardsticks:
    """Work out what the declared curves and ranges say, once for each millimetre and day.

    Parameters
    ----------
    species : mapping of str to Species
    margin : float
        How far beyond the largest declared size a bird may be, as a factor.
    sibling_days : float
        Standard deviation of the ages of siblings where a species declares none.
    """
    import pandas as pd

    wings, ages, kinds = [], [], []
    for slug, one in species.items():
        wing, mass = one.curves.get("wing_mm"), one.curves.get("mass_g")
        wing_grown, mass_grown = (one.adult.get(("", column)) for column in ("wing_mm", "mass_g"))
        tops = {
            column: max(
                [adult.high for adult in [one.adult.get(("", column))] if adult is not None]
                + [_top(curve) for curve in [one.curves.get(column)] if curve is not None],
                default=np.nan,
            )
            for column in ("wing_mm", "mass_g")
        }
        kinds.append(
            {
                "kind": slug,
                "wing_grown": wing_grown.middle if wing_grown else np.nan,
                "wing_grown_sd": wing_grown.sd if wing_grown else np.nan,
                "mass_grown": mass_grown.middle if mass_grown else np.nan,
                "mass_grown_sd": mass_grown.sd if mass_grown else np.nan,
                "wing_most": margin * tops["wing_mm"],
                "mass_most": margin * tops["mass_g"],
                "sibling_days": one.number("nestling.sibling_sd_days") or sibling_days,
                "wing_pace": one.number("pace.wing_impossible") or np.nan,
            }
        )
        if wing is not None:
            length = np.arange(1.0, np.ceil(_TWICE * tops["wing_mm"]) + 1)
            age = growth.age_of(wing, length)
            frame = pd.DataFrame({"kind": slug, "wing_at": length, "wing_age": age})
            frame["mass_for_wing"] = frame["log_sd"] = np.nan
            if mass is not None:
                found = growth.mass_for_wing(mass, wing, length)
                frame["mass_for_wing"], frame["log_sd"] = found.mean, found.sd / found.mean
            wings.append(frame)
        days = np.arange(0.0, max([curve.last_day for curve in one.curves.values()], default=0.0) + 1)
        frame = pd.DataFrame({"kind": slug, "age_at": days})
        for column, curve in (("wing", wing), ("mass", mass)):
            inside = np.zeros(len(days), dtype=bool)
            if curve is not None:
                inside = (days >= curve.first_day) & (days <= curve.last_day)
            frame[f"{column}_for_age"] = frame[f"{column}_age_sd"] = np.nan
            if curve is not None and inside.any():
                frame.loc[inside, f"{column}_for_age"] = growth.mean(curve, days[inside])
                frame.loc[inside, f"{column}_age_sd"] = growth.spread(curve, days[inside])
        ages.append(frame)
    return Yardsticks(
        pd.concat(wings, ignore_index=True), pd.concat(ages, ignore_index=True), pd.DataFrame(kinds)
    )


def _top(curve: growth.Curve) -> float:
    """Largest mean of a curve."""
    return float(np.max(growth.mean(curve, np.arange(curve.first_day, curve.last_day + 1))))

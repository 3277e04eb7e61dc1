"""Masses of one nestling at several visits."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models import growth
from audit.rules.case import At
from audit.rules.companions.tracks import follows_wings
from audit.rules.plain import plain_text

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from audit.findings import Finding
    from audit.rules.case import Case
    from audit.rules.lives import Kind, Lives
    from audit.rules.sizes import Sizes

    Floats = NDArray[np.float64]

__all__ = ["masses_apart"]


def masses_apart(case: Case, lives: Lives, kinds: Sequence[Kind], said: set[str]) -> Iterator[Finding]:
    """Find masses of one nestling that change more than masses do."""
    birds = lives.birds
    for kind in kinds:
        steps = kind.species.limits.get("pace.mass_change_sd")
        if steps is None or not follows_wings(kind.species):
            continue
        pairs = np.flatnonzero(
            (birds.slug[lives.earlier] == kind.species.slug)
            & (birds.grown[lives.earlier] == 0)
            & (birds.grown[lives.later] == 0)
            & (lives.gap >= 1)
        )
        if not len(pairs):
            continue
        i, j = lives.earlier[pairs], lives.later[pairs]
        sizes = kind.sizes()
        deviation = np.full(len(birds.wing), np.nan)
        deviation[kind.rows] = _deviations(sizes, len(kind.rows))
        limits = np.array(steps.value, dtype=np.float64)
        place = np.minimum(np.searchsorted(limits[:, 0], lives.gap[pairs]), len(limits) - 1)
        change = deviation[j] - deviation[i]
        z = change / limits[place, 1]
        for k in np.flatnonzero(np.abs(np.nan_to_num(z)) > case.limit("mass_z")):
            ring = str(lives.ring.iloc[i[k]])
            if ring in said:
                continue
            said.add(ring)
            yield _blame_masses(case, lives, sizes, (int(i[k]), int(j[k])), deviation)


def _deviations(sizes: Sizes, n: int) -> Floats:
    """Grams above what is expected of n birds at the age of the wing; missing where that is not known."""
    company = sizes.company
    result = np.full(n, np.nan)
    age, _ = company.ages()
    expected = growth.mean(sizes.species.curves["mass_g"], age) * sizes.nestling_factor.value
    result[company.rows] = company.mass - np.where(np.isfinite(company.wing), expected, np.nan)
    return result


def _blame_masses(
    case: Case, lives: Lives, sizes: Sizes, pair: tuple[int, int], deviation: Floats
) -> Finding:
    i, j = pair
    mass, field = lives.birds.mass, lives.birds.mass_field
    curve = sizes.species.curves["mass_g"]
    sd = float(np.max(growth.spread(curve, sizes.days)))
    worse = i if abs(deviation[i]) > abs(deviation[j]) else j
    lead = abs(abs(deviation[i]) - abs(deviation[j])) / sd
    rows = [worse] if lead >= case.limit("mass_lead") else [i, j]
    p_error = case.rule.outcomes["mass_change"].p_error / len(rows)
    gap = (lives.frame["date"].iloc[j] - lives.frame["date"].iloc[i]).days
    span = f"from {plain_text(mass[i])} to {plain_text(mass[j])} g in {gap} days"
    ends = "either may be wrong" if len(rows) > 1 else f"the mass of {lives.day(rows[0])} fits worse"
    return case.blame(
        "mass_change",
        [At(lives.label(row), str(field[row]), p_error=p_error) for row in rows],
        f"The mass of ring {lives.ring.iloc[i]} went {span}: nestlings do not change so much; {ends}.",
        [(lives.label(row), str(field[row])) for row in pair if row not in rows],
    )

"""Accounts of one bird's measures: what may have gone wrong, each weighed by how well it explains the row."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.numerals import NumeralShares, meant_instead, step_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from audit.rules.case import Case
    from audit.rules.stature import Birds, Outlook, Sizes

    Floats = NDArray[np.float64]

__all__ = ["Account", "accounts_about_the_bird", "accounts_of", "log_any", "log_step", "odd_decimals"]


@dataclass(frozen=True, slots=True)
class Account:
    """One thing that may have gone wrong in a row: cause, kind of slip, log weight and value meant."""

    cause: str
    kind: str
    log_weight: float
    meant: float | str = np.nan


def log_any(sizes: Sizes, column: str, value: Floats) -> Floats:
    """Log density of a value typed for no known reason: any size, the larger the less likely."""
    scale = sizes.ceiling(column)[0]
    density = 2 / (np.pi * scale * (1 + (value / scale) ** 2))
    return np.where(np.isnan(value), -np.inf, np.log(density))


def accounts_of(
    case: Case, outlook: Outlook, outlooks: Mapping[str, Outlook], row: int, fine: float
) -> list[Account]:
    """Weigh everything that may account for one bird's measures.

    Parameters
    ----------
    outlook : Outlook
        Of the bird's species.
    outlooks : mapping of str to Outlook
        Of all species of the season.
    row : int
        Which bird of the outlook.
    fine : float
        Log density of its measures, were nothing wrong.
    """
    birds = outlook.birds
    wing, mass, grown = float(birds.wing[row]), float(birds.mass[row]), float(birds.grown[row])
    has_wing, has_mass = np.isfinite(wing), np.isfinite(mass)
    slip = float(case.limit("slip"))
    shares = NumeralShares(case.limit("changed"), case.limit("turned"), case.limit("length"))
    kinds = {"digit": float(case.limit("digit_share")), "tenfold": float(case.limit("tenfold_share"))}
    other = float(case.limit("other_share"))
    trust = {"wing": 1.0, "mass": float(case.limit("balanced_trust")) if birds.balanced[row] else 1.0}

    def weigh(wings: Floats, masses: Floats, stage: float = grown) -> Floats:
        here = np.full(len(wings), row)
        return outlook.evidence(here, wings, masses, np.full(len(wings), stage))

    # a value stands for one step of the scale it was read on; decimals in a column of whole numbers are odd
    step = {
        cause: log_step(column, value)
        for cause, column, value in (("wing", birds.wing, wing), ("mass", birds.mass, mass))
    }
    both_steps = step["wing"] + step["mass"]
    accounts = [Account("nothing", "", fine + both_steps)]
    gone = np.array([np.nan])

    for cause, value, column in (("wing", wing, "wing_mm"), ("mass", mass, "mass_g")):
        if not np.isfinite(value):
            continue
        partner = "mass" if cause == "wing" else "wing"
        prior = np.log(slip * trust[cause])
        meant = meant_instead(value, shares)
        values = np.array([one.value for one in meant])
        if cause == "wing":
            found = weigh(values, np.full(len(values), mass))
            alone = weigh(gone, np.array([mass]))[0]
        else:
            found = weigh(np.full(len(values), wing), values)
            alone = weigh(np.array([wing]), gone)[0]
        for one, log_density in zip(meant, found, strict=True):
            # a point too many makes decimals of a whole number
            coarser = step_of(one.value) > step_of(value)
            unit = 0.0 if one.kind == "tenfold" and coarser else step[cause]
            accounts.append(
                Account(
                    cause,
                    one.kind,
                    float(prior + np.log(kinds[one.kind] * one.share) + log_density + unit + step[partner]),
                    one.value,
                )
            )
        any_value = float(log_any(outlook.sizes, column, np.array([value]))[0])
        accounts.append(
            Account(cause, "other", float(prior + np.log(other) + any_value + alone) + both_steps)
        )
    if has_wing and has_mass:
        swapped = weigh(np.array([mass]), np.array([wing]))[0]
        prior = np.log(slip * float(case.limit("exchanged_share")) * trust["mass"])
        accounts.append(Account("exchanged", "", float(prior + swapped) + both_steps))
        any_both = sum(
            float(log_any(outlook.sizes, column, np.array([value]))[0])
            for column, value in (("wing_mm", wing), ("mass_g", mass))
        )
        accounts.append(Account("both", "", float(2 * np.log(slip * other) + any_both) + both_steps))
    accounts += accounts_about_the_bird(case, outlook, outlooks, row, both_steps)
    return accounts


def log_step(column: Floats, value: float) -> float:
    """Log of the step that a value was written to, times how usual its decimals are in this column."""
    step = step_of(value) if np.isfinite(value) else 1.0
    return 0.0 if step == 1 else float(np.log(step) + np.log(_usual_decimals(column)))


def _usual_decimals(column: Floats) -> float:
    known = column[np.isfinite(column)]
    return float((np.mod(known, 1) > 0).sum() / (len(known) + 1))


def odd_decimals(column: Floats) -> NDArray[np.bool_]:
    """Which values have decimals, in a column of mostly whole numbers."""
    fraction = np.mod(np.where(np.isfinite(column), column, 0.0), 1) > 0
    mostly_whole = _usual_decimals(column) < 1 / 2
    return fraction & mostly_whole


def _log_sexed_odds(birds: Birds, row: int) -> float:
    """How much better it fits the other age class that a sex was written for this bird, or none."""
    alike = (birds.sex != "") == (birds.sex[row] != "")
    grown = float(birds.grown[row])
    # one bird more of each kind, so that a class of few birds says little
    ours, others = (
        ((alike & (birds.grown == kind)).sum() + 1) / ((birds.grown == kind).sum() + 2)
        for kind in (grown, 1 - grown)
    )
    return float(np.log(others / ours))


def accounts_about_the_bird(
    case: Case, outlook: Outlook, outlooks: Mapping[str, Outlook], row: int, both_steps: float
) -> list[Account]:
    """Age, age code, sex or species may be wrong instead of the measures."""
    birds, sizes = outlook.birds, outlook.sizes
    wing, mass = birds.wing[row : row + 1], birds.mass[row : row + 1]
    grown = float(birds.grown[row])
    code_slip = np.log(float(case.limit("code_slip")))
    accounts = []
    if grown == 0 and np.isfinite(birds.age[row]):
        found = outlook.as_nestling(np.array([row]), wing, mass, heed_age=False)[0]
        age_slip = np.log(float(case.limit("age_slip")))
        accounts.append(Account("age", "", float(age_slip + found) + both_steps))
    # a bird of another brood differs in age; without a curve a wing tells no age, only that it is odd
    tells_age = "wing_mm" in sizes.species.curves or not np.isfinite(wing[0])
    if grown == 0 and tells_age and (birds.visit[birds.grown == 0] == birds.visit[row]).sum() > 1:
        found = outlook.as_nestling(np.array([row]), wing, mass, heed_siblings=False)[0]
        place_slip = np.log(float(case.limit("place_slip")))
        accounts.append(Account("place", "", float(place_slip + found) + both_steps))
    if np.isfinite(grown):
        found = outlook.evidence(np.array([row]), wing, mass, np.array([1 - grown]))[0]
        # a nestling coded full-grown is likelier where there are ten nestlings to one adult
        of_class, of_other = (birds.grown == grown).sum() + 1, (birds.grown == 1 - grown).sum() + 1
        odds = np.log(of_other / of_class) + _log_sexed_odds(birds, row)
        accounts.append(Account("code", "", float(code_slip + odds + found) + both_steps))
    sex = str(birds.sex[row])
    if grown == 1 and sex and any(key[0] for key in sizes.species.adult):
        other_sex = "F" if sex == "M" else "M"
        found = sizes.adult_evidence(wing, mass, np.array([other_sex], dtype=object))[0]
        found += sizes.log_any_age(birds.age[row : row + 1])[0]
        accounts.append(Account("sex", "", float(code_slip + found) + both_steps, other_sex))
    if np.isfinite(wing[0]) and np.isfinite(mass[0]) and case.season.has("handlings", "species"):
        alone = grown != 0 or (birds.visit == birds.visit[row]).sum() == 1
        others = [slug for slug in outlooks if slug != sizes.species.slug] if alone else []
        for slug in others:
            found = _as_other_species(outlooks[slug].sizes, wing, mass, grown, sex)
            found += float(sizes.log_any_age(birds.age[row : row + 1])[0])
            accounts.append(
                Account("species", "", float(code_slip - np.log(len(others)) + found) + both_steps, slug)
            )
    return accounts


def _as_other_species(sizes: Sizes, wing: Floats, mass: Floats, grown: float, sex: str) -> float:
    flat = np.full((1, len(sizes.days)), -np.log(len(sizes.days)))
    young = sizes.nestling_evidence(flat, wing, mass)[0]
    old = sizes.adult_evidence(wing, mass, np.array([sex], dtype=object))[0]
    if np.isnan(grown):
        return float(np.logaddexp(young, old) - np.log(2.0))
    return float(old if grown == 1 else young)

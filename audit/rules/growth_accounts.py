"""Accounts of one bird's measures: what may have gone wrong, each weighed by how well it explains the row."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.written_number import step_of
from audit.rules.sizes import log_any

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from audit.models.keying import Channel, Source
    from audit.rules.birds import Birds
    from audit.rules.case import Case
    from audit.rules.outlook import Outlook
    from audit.rules.sizes import Sizes

    Floats = NDArray[np.float64]

__all__ = [
    "Account",
    "accounts_about_the_bird",
    "accounts_of",
    "log_any",
    "log_step",
    "meant_of",
    "odd_decimals",
    "other_share",
]


@dataclass(frozen=True, slots=True)
class Account:
    """One thing that may have gone wrong in a row: cause, kind of slip, log weight and value meant."""

    cause: str
    kind: str
    log_weight: float
    meant: float | str = np.nan


def accounts_of(
    case: Case, outlook: Outlook, outlooks: Mapping[str, Outlook], row: int, channel: Channel
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
    channel : Channel
        What becomes of a number in which the hand slips.
    """
    birds = outlook.birds
    wing, mass, grown = float(birds.wing[row]), float(birds.mass[row]), float(birds.grown[row])
    has_wing, has_mass = np.isfinite(wing), np.isfinite(mass)
    slip = float(case.limit("slip"))
    other = other_share(case)
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
    fine = float(weigh(np.array([wing]), np.array([mass]))[0])
    accounts = [Account("nothing", "", fine + both_steps)]
    gone = np.array([np.nan])

    for cause, value, column in (("wing", wing, "wing_mm"), ("mass", mass, "mass_g")):
        if not np.isfinite(value):
            continue
        partner = "mass" if cause == "wing" else "wing"
        prior = np.log(slip * trust[cause])
        meant = meant_of(channel, value)
        values = np.array([one.meant for one in meant], dtype=np.float64)
        if cause == "wing":
            found = weigh(values, np.full(len(values), mass))
            alone = weigh(gone, np.array([mass]))[0]
        else:
            found = weigh(np.full(len(values), wing), values)
            alone = weigh(np.array([wing]), gone)[0]
        for one, log_density in zip(meant, found, strict=True):
            # a lost point would have made a whole number of decimals that nobody else writes
            unit = log_step(birds.wing if cause == "wing" else birds.mass, float(one.meant))
            weight = float(prior + np.log(one.chance) + log_density + unit + step[partner])
            accounts.append(Account(cause, one.kind, weight, float(one.meant)))
        any_value = float(log_any(outlook.sizes, column, np.array([value]))[0])
        accounts.append(
            Account(cause, "other", float(prior + np.log(other) + any_value + alone) + both_steps)
        )
    if has_wing and has_mass:
        swapped = weigh(np.array([mass]), np.array([wing]))[0]
        prior = np.log(slip * float(case.share("exchanged.net_wing")) * trust["mass"])
        accounts.append(Account("exchanged", "", float(prior + swapped) + both_steps))
        any_both = sum(
            float(log_any(outlook.sizes, column, np.array([value]))[0])
            for column, value in (("wing_mm", wing), ("mass_g", mass))
        )
        accounts.append(Account("both", "", float(2 * np.log(slip * other) + any_both) + both_steps))
    accounts += accounts_about_the_bird(case, outlook, outlooks, row, both_steps)
    return accounts


def meant_of(channel: Channel, value: float) -> list[Source]:
    """List the numbers that one slip of the hand turns into `value`."""
    return [one for one in channel.sources(value) if float(one.meant) > 0]


def other_share(case: Case) -> float:
    """Share of wrong measures that were copied from elsewhere, or are wrong for no known reason."""
    return case.share("measures.copied") + case.share("measures.digit") * case.share("codes.unknown")


def log_step(column: Floats, value: float) -> float:
    """Log of the step that a value was written to, times how usual its decimals are in this column."""
    step = step_of(value) if np.isfinite(value) else 1.0
    return 0.0 if step == 1 else float(np.log(step) + np.log(_usual_decimals(column)))


def _usual_decimals(column: Floats) -> float:
    known = column[np.isfinite(column)]
    # the next value may be the first with decimals
    return float(((np.mod(known, 1) > 0).sum() + 1 / 2) / (len(known) + 1))


def odd_decimals(column: Floats, rare: float) -> NDArray[np.bool_]:
    """Which values have decimals, in a column where so small a share has."""
    fraction = np.mod(np.where(np.isfinite(column), column, 0.0), 1) > 0
    return fraction & (_usual_decimals(column) < rare)


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
    # nor is a bird a stranger that was in this box on another day
    at_home = outlook.expected.own[row] > 0
    if (
        grown == 0
        and tells_age
        and not at_home
        and (birds.visit[birds.grown == 0] == birds.visit[row]).sum() > 1
    ):
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
    young = sizes.nestling_evidence(wing, mass)[0]
    old = sizes.adult_evidence(wing, mass, np.array([sex], dtype=object))[0]
    if np.isnan(grown):
        return float(np.logaddexp(young, old) - np.log(2.0))
    return float(old if grown == 1 else young)

"""Gross, bag, net and wing of one handling, weighed together: which slip accounts for them, if any."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.explain.account import NOTHING, Account, Posterior
from audit.explain.handling import BAG, MASSES, WING, Handling, log_steps
from audit.explain.measure_slips import Slips, slips_of
from audit.explain.surroundings import MEASURES, far_masses, far_wings
from audit.rules.growth_accounts import accounts_about_the_bird, log_any

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.explain.surroundings import Surroundings

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

__all__ = ["weigh", "worth_a_look"]

_NEVER = -np.inf
_LEAST = float(np.finfo(np.float64).tiny)


def worth_a_look(around: Surroundings) -> Flags:
    """Rows in which some slip is not much less likely than none, at the very best that it could do."""
    look_from = float(np.log(around.weigher.setting("explain.say.look_from")))
    doubtful = around.broken.copy()
    for slug, outlook in around.outlooks.items():
        rows = np.flatnonzero((around.place >= 0) & (around.birds.slug == slug))
        fine, without_wing, without_mass = outlook.as_typed()
        birds = outlook.birds
        best = around.log_rate + np.maximum(
            log_any(outlook.sizes, "wing_mm", birds.wing) + without_wing,
            log_any(outlook.sizes, "mass_g", birds.mass) + without_mass,
        )
        doubtful[rows] |= np.nan_to_num(best - fine, nan=_NEVER, neginf=_NEVER) > look_from
    doubtful |= far_wings(around) | far_masses(around)
    bag = around.typed[:, BAG]
    rows = np.flatnonzero(np.isfinite(bag))
    bags, unit = around.weighings.bags, around.unit[rows]
    usual = bags.usual(rows)
    chance = around.weighings.shares.keying.numbers(bag[rows], usual, unit).sum(axis=1)
    as_usual = bags.log_chance(np.nan_to_num(usual, nan=-1.0), unit, rows)
    odds = np.log(np.maximum(chance, _LEAST)) + as_usual - bags.log_chance(bag[rows], unit, rows)
    doubtful[rows] |= odds + around.log_rate > look_from
    return doubtful


def weigh(around: Surroundings, row: int) -> Posterior:
    """Weigh everything that may account for the measures of one row.

    All single slips are weighed; of two at once only the likeliest of mass with the likeliest of wing.

    Parameters
    ----------
    row : int
        Position in the sheet.

    Returns
    -------
    Posterior
        ``nothing`` is always among the accounts, and so is a wrong cell without a known reason.
    """
    handling = Handling(around, row)
    as_typed = Slips(NOTHING, handling.typed[None, :], np.zeros(1), ("",), ())
    single = [as_typed, *slips_of(handling)]
    both = _pairs(handling, single)
    accounts = [*_accounts(handling, single), *_accounts(handling, both), *_about_the_bird(handling)]
    return Posterior(tuple(accounts))


def _accounts(handling: Handling, slips: Sequence[Slips]) -> list[Account]:
    """Accounts of slips; those that cannot be are left out."""
    if not slips:
        return []
    weights = handling.evidence(np.concatenate([one.true for one in slips]))
    weights = weights + np.concatenate([one.log_prior for one in slips])
    found = []
    start = 0
    for one in slips:
        for i, how in enumerate(one.how):
            weight = float(weights[start + i])
            if one.kind == NOTHING or np.isfinite(weight):
                found.append(Account(one.kind, _meant(one, i), weight, how, one.parts))
        start += len(one.how)
    return found


def _meant(slips: Slips, i: int) -> tuple[tuple[str, object], ...]:
    # sums of decimal fractions are tidied
    return tuple(
        (MEASURES[cell], None if cell in slips.unknown else float(round(slips.true[i, cell], 2)))
        for cell in slips.cells
    )


def _pairs(handling: Handling, single: Sequence[Slips]) -> list[Slips]:
    """Two slips in one handling: the likeliest of mass and of wing, each ranked as if the other were not."""
    if not handling.has[WING] or not handling.weighed:
        return []
    most = int(handling.around.weigher.setting("explain.say.pair_from"))
    of_wing = [one for one in single if one.cells == (WING,) and not one.unknown]
    of_mass = [one for one in single if one.cells and WING not in one.cells]
    found = []
    for mass, i in _likeliest(handling, of_mass, ignore=[WING])[:most]:
        for wing, j in _likeliest(handling, of_wing, ignore=list(MASSES))[:most]:
            true = mass.true[i : i + 1].copy()
            true[0, WING] = wing.true[j, WING]
            prior = mass.log_prior[i : i + 1] + wing.log_prior[j]
            parts = tuple(
                Account(one.kind, _meant(one, k), float(one.log_prior[k]), one.how[k])
                for one, k in ((mass, i), (wing, j))
            )
            cells = (*mass.cells, WING)
            found.append(Slips("two slips", true, prior, ("two slips",), cells, mass.unknown, parts))
    return found


def _likeliest(handling: Handling, slips: Sequence[Slips], ignore: list[int]) -> list[tuple[Slips, int]]:
    """Rank slips by what they explain when some measures are left out; the impossible ones are dropped."""
    places = [(one, i) for one in slips for i in range(len(one.how))]
    if not places:
        return []
    true = np.concatenate([one.true for one in slips])
    true[:, ignore] = np.nan
    weights = handling.evidence(true) + np.concatenate([one.log_prior for one in slips])
    order = np.argsort(-weights, kind="stable")
    return [places[int(k)] for k in order if np.isfinite(weights[k])]


def _about_the_bird(handling: Handling) -> list[Account]:
    """Species, age, sex or place may be wrong instead of the measures."""
    there = handling.around.outlook(handling.row)
    if there is None:
        return []
    outlook, place = there
    birds = outlook.birds
    mass, wing = birds.mass[place : place + 1], birds.wing[place : place + 1]
    # what the sum and the bag say is the same for all of these
    rest = float(handling.evidence(handling.typed[None, :])[0] - handling.growth(mass, wing)[0])
    if not np.isfinite(rest):
        return []
    steps = float(log_steps(birds.mass, mass)[0] + log_steps(birds.wing, wing)[0])
    grower, outlooks = handling.around.grower, handling.around.outlooks
    fields = {
        "age": str(birds.age_field[place]),
        "place": "box",
        "code": "age",
        "sex": "sex",
        "species": "species",
    }
    return [
        Account(
            one.cause,
            ((fields[one.cause], one.meant if isinstance(one.meant, str) else None),),
            one.log_weight + rest,
            one.cause,
        )
        for one in accounts_about_the_bird(grower, outlook, outlooks, place, steps)
    ]

"""Gross, bag, net and wing of one handling, weighed together: which slip accounts for them, if any."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.explain.account import NOTHING, Account, Posterior
from audit.explain.handling import BAG, MASSES, NET, WING, Handling
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

#: Below every log weight, and still a number.
_BEYOND = float(np.finfo(np.float64).min) / 2
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
        # both may be beyond all numbers, and then a look is worth its while
        doubtful[rows] |= np.maximum(best, _BEYOND) - np.maximum(fine, _BEYOND) > look_from
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
    of_mass, of_wing = _apart(handling, single)
    # all at once: each asking costs more than a few more values
    told, told_of_mass, told_of_wing = _evidence(handling, (single, []), (of_mass, [WING]), (of_wing, MASSES))
    both = _pairs(handling, _likeliest(of_mass, told_of_mass), _likeliest(of_wing, told_of_wing))
    (told_of_both,) = _evidence(handling, (both, []))
    accounts = [*_accounts(single, told), *_accounts(both, told_of_both)]
    return Posterior((*accounts, *_about_the_bird(handling, float(told[0]))))


def _evidence(handling: Handling, *parts: tuple[Sequence[Slips], Sequence[int]]) -> list[Floats]:
    """Log probability of the true measures of slips, in parts; of each part some measures may be ignored."""
    true = []
    for slips, ignored in parts:
        values = np.concatenate([np.empty((0, len(MEASURES))), *(one.true for one in slips)])
        values[:, ignored] = np.nan
        true.append(values)
    told = handling.evidence(np.concatenate(true)) if any(map(len, true)) else np.empty(0)
    return np.split(told, np.cumsum([len(values) for values in true])[:-1])


def _accounts(slips: Sequence[Slips], told: Floats) -> list[Account]:
    """Accounts of slips; those that cannot be are left out."""
    if not slips:
        return []
    weights = told + np.concatenate([one.log_prior for one in slips])
    found = []
    start = 0
    for one in slips:
        # sums of decimal fractions are tidied
        true = np.round(one.true, 2).tolist()
        upto = start + len(one.how)
        for how, meant, weight in zip(one.how, true, weights[start:upto].tolist(), strict=True):
            if one.kind == NOTHING or np.isfinite(weight):
                found.append(Account(one.kind, _meant(one, meant), weight, how, one.parts))
        start = upto
    return found


def _meant(slips: Slips, true: Sequence[float]) -> tuple[tuple[str, object], ...]:
    return tuple(
        (MEASURES[cell], None if cell in slips.unknown else float(true[cell])) for cell in slips.cells
    )


def _apart(handling: Handling, single: Sequence[Slips]) -> tuple[list[Slips], list[Slips]]:
    """Slips in masses, and in the wing, of which two may have happened at once."""
    if not handling.has[WING] or not handling.weighed:
        return [], []
    return (
        [one for one in single if one.cells and WING not in one.cells],
        [one for one in single if one.cells == (WING,) and not one.unknown],
    )


def _pairs(
    handling: Handling, of_mass: Sequence[tuple[Slips, int]], of_wing: Sequence[tuple[Slips, int]]
) -> list[Slips]:
    """Two slips in one handling: the likeliest of mass and of wing, each ranked as if the other were not."""
    most = int(handling.around.weigher.setting("explain.say.pair_from"))
    found = []
    for mass, i in of_mass[:most]:
        for wing, j in of_wing[:most]:
            true = mass.true[i : i + 1].copy()
            true[0, WING] = wing.true[j, WING]
            prior = mass.log_prior[i : i + 1] + wing.log_prior[j]
            parts = tuple(
                Account(one.kind, _meant(one, np.round(one.true[k], 2)), float(one.log_prior[k]), one.how[k])
                for one, k in ((mass, i), (wing, j))
            )
            cells = (*mass.cells, WING)
            found.append(Slips("two slips", true, prior, ("two slips",), cells, mass.unknown, parts))
    return found


def _likeliest(slips: Sequence[Slips], told: Floats) -> list[tuple[Slips, int]]:
    """Rank slips by what they explain; the impossible ones are dropped."""
    if not slips:
        return []
    places = [(one, i) for one in slips for i in range(len(one.how))]
    weights = told + np.concatenate([one.log_prior for one in slips])
    order = np.argsort(-weights, kind="stable")
    return [places[int(k)] for k in order if np.isfinite(weights[k])]


def _about_the_bird(handling: Handling, as_typed: float) -> list[Account]:
    """Species, age, sex or place may be wrong instead of the measures, which are as likely as typed."""
    there = handling.around.outlook(handling.row)
    if there is None:
        return []
    outlook, place = there
    birds = outlook.birds
    mass, wing = birds.mass[place : place + 1], birds.wing[place : place + 1]
    # what the sum and the bag say is the same for all of these
    grown = float(handling.growth(mass, wing)[0])
    if not np.isfinite([as_typed, grown]).all():
        return []
    rest = as_typed - grown
    steps = float(handling.log_steps(NET, mass)[0] + handling.log_steps(WING, wing)[0])
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

"""Gross, bag, net and wing of one handling, weighed together: which slip accounts for them, if any."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from audit.explain.account import NOTHING, Account, Posterior
from audit.explain.handling import BAG, MASSES, NET, WING, Handling, foresee
from audit.explain.likelihood import log_growth, log_likelihood, log_steps
from audit.explain.measure_slips import Slips, slips_of
from audit.explain.surroundings import MEASURES, far_masses, far_wings
from audit.rules.bird_accounts import accounts_about_birds
from audit.rules.sizes import log_any

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from audit.explain.surroundings import Surroundings
    from audit.rules.bird_accounts import Account as AboutBird
    from audit.rules.outlook import Outlook

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

__all__ = ["weigh_together", "worth_a_look"]

#: Below every log weight, and still a number.
_BEYOND = float(np.finfo(np.float64).min) / 2
_LEAST = float(np.finfo(np.float64).tiny)
#: Log of a share of one that rounding takes away.
_ROUNDED = float(np.log(np.finfo(np.float64).eps))


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


def weigh_together(around: Surroundings, rows: Sequence[int]) -> list[Posterior]:
    """Weigh everything that may account for the measures of some rows, each on its own.

    All single slips are weighed; of two at once only the likeliest of mass with the likeliest of wing. What
    they make likely is asked for all rows at once: each asking costs more than many more values.

    Parameters
    ----------
    rows : sequence of int
        Positions in the sheet, each once.

    Returns
    -------
    list of Posterior
        One for each row. `NOTHING` is always among the accounts, and so is a wrong cell without a reason.
    """
    handlings = [Handling(around, row) for row in rows]
    foresee(handlings)
    singles = [[_as_typed(one), *slips_of(one)] for one in handlings]
    apart = [_apart(one, single) for one, single in zip(handlings, singles, strict=True)]
    of_masses, of_wings = [mass for mass, _ in apart], [wing for _, wing in apart]
    told, told_of_masses, told_of_wings = _likelihoods(
        around, rows, (singles, []), (of_masses, [WING]), (of_wings, MASSES)
    )
    likeliest = zip(
        map(_likeliest, of_masses, told_of_masses), map(_likeliest, of_wings, told_of_wings), strict=True
    )
    pairs = [_pairs(one, *both) for one, both in zip(handlings, likeliest, strict=True)]
    (told_of_pairs,) = _likelihoods(around, rows, (pairs, []))
    birds = _about_the_birds(around, rows, [float(one[0]) for one in told])
    return [
        Posterior((*_accounts([*single, *both], np.concatenate([one, two]), bird), *bird))
        for single, one, both, two, bird in zip(singles, told, pairs, told_of_pairs, birds, strict=True)
    ]


def _as_typed(handling: Handling) -> Slips:
    return Slips(NOTHING, handling.typed[None, :], np.zeros(1), ("",), ())


def _likelihoods(
    around: Surroundings, rows: Sequence[int], *parts: tuple[Sequence[Sequence[Slips]], Sequence[int]]
) -> list[list[Floats]]:
    """Log probability of the true measures of slips, row by row; of each part some measures are ignored."""
    true, where, many = [np.empty((0, len(MEASURES)))], [], []
    for of_rows, ignored in parts:
        for row, slips in zip(rows, of_rows, strict=True):
            values = np.concatenate([np.empty((0, len(MEASURES))), *(one.true for one in slips)])
            values[:, ignored] = np.nan
            true.append(values)
            where.append(np.full(len(values), row))
            many.append(len(values))
    told = log_likelihood(around, np.concatenate(where), np.concatenate(true))
    split = np.split(told, np.cumsum(many)[:-1])
    return [split[k * len(rows) : (k + 1) * len(rows)] for k in range(len(parts))]


def _accounts(slips: Sequence[Slips], told: Floats, beside: Sequence[Account]) -> list[Account]:
    """Accounts of slips; those that cannot be are left out, and those lost in the rounding of a sum."""
    weights = told + np.concatenate([one.log_prior for one in slips])
    top = max([*weights[np.isfinite(weights)].tolist(), *(one.log_weight for one in beside)], default=0.0)
    least = top + _ROUNDED if isfinite(top) else -np.inf
    # sums of decimal fractions are tidied
    true = np.round(np.concatenate([one.true for one in slips]), 2).tolist()
    forms = ((one, how) for one in slips for how in one.how)
    return [
        Account(one.kind, _meant(one, meant), weight, how, one.parts)
        for (one, how), meant, weight in zip(forms, true, weights.tolist(), strict=True)
        if one.kind == NOTHING or (isfinite(weight) and (weight >= least or how == "unknown"))
    ]


def _meant(slips: Slips, true: Sequence[float]) -> tuple[tuple[str, object], ...]:
    unknown = slips.unknown
    return tuple([(MEASURES[cell], None if cell in unknown else float(true[cell])) for cell in slips.cells])


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
    # each slip is worded once, whatever it is paired with
    masses, wings = ([(one, k, _part(one, k)) for one, k in some[:most]] for some in (of_mass, of_wing))
    found = []
    for mass, i, of_the_mass in masses:
        for wing, j, of_the_wing in wings:
            true = mass.true[i : i + 1].copy()
            true[0, WING] = wing.true[j, WING]
            prior = mass.log_prior[i : i + 1] + wing.log_prior[j]
            cells = (*mass.cells, WING)
            parts = of_the_mass, of_the_wing
            found.append(Slips("two slips", true, prior, ("two slips",), cells, mass.unknown, parts))
    return found


def _part(one: Slips, k: int) -> Account:
    return Account(one.kind, _meant(one, np.round(one.true[k], 2)), float(one.log_prior[k]), one.how[k])


def _likeliest(slips: Sequence[Slips], told: Floats) -> list[tuple[Slips, int]]:
    """Rank slips by what they explain; the impossible ones are dropped."""
    if not slips:
        return []
    places = [(one, i) for one in slips for i in range(len(one.how))]
    weights = told + np.concatenate([one.log_prior for one in slips])
    order = np.argsort(-weights, kind="stable")
    return [places[k] for k in order[np.isfinite(weights[order])].tolist()]


def _about_the_birds(
    around: Surroundings, rows: Sequence[int], as_typed: Sequence[float]
) -> list[list[Account]]:
    """Species, age, sex or place may be wrong instead of the measures, which are as likely as typed."""
    places = [(k, around.outlook(row)) for k, row in enumerate(rows)]
    known = [(k, there) for k, there in places if there is not None]
    here = np.array([rows[k] for k, _ in known], dtype=np.int64)
    mass, wing = (np.array([getattr(o.birds, name)[at] for _, (o, at) in known]) for name in ("mass", "wing"))
    # what the sum and the bag say is the same for all of these
    grown = log_growth(around, here, mass, wing)
    steps = log_steps(around, here, NET, mass) + log_steps(around, here, WING, wing)
    found: list[list[Account]] = [[] for _ in rows]
    of_outlook: dict[int, tuple[Outlook, list[_Known]]] = {}
    for (k, (outlook, place)), log_grown, step in zip(known, grown.tolist(), steps.tolist(), strict=True):
        if np.isfinite(as_typed[k]) and np.isfinite(log_grown):
            one = _Known(k, place, as_typed[k] - log_grown, step)
            of_outlook.setdefault(id(outlook), (outlook, []))[1].append(one)
    for outlook, birds in of_outlook.values():
        for one, accounts in zip(birds, _about_birds(around, outlook, birds), strict=True):
            found[one.number] = accounts
    return found


class _Known(NamedTuple):
    """A bird of some outlook: its number among those weighed, its place, and what all accounts share."""

    number: int
    place: int
    rest: float
    steps: float


def _about_birds(around: Surroundings, outlook: Outlook, birds: Sequence[_Known]) -> list[list[Account]]:
    asked = [bird.place for bird in birds], [bird.steps for bird in birds]
    weighed = accounts_about_birds(around.grower, outlook, around.outlooks, *asked)
    return [
        _about_the_bird(str(outlook.birds.age_field[bird.place]), accounts, bird.rest)
        for bird, accounts in zip(birds, weighed, strict=True)
    ]


def _about_the_bird(age_field: str, accounts: Sequence[AboutBird], rest: float) -> list[Account]:
    fields = {"age": age_field, "place": "box", "code": "age", "sex": "sex", "species": "species"}
    return [
        Account(
            one.cause,
            ((fields[one.cause], one.meant if isinstance(one.meant, str) else None),),
            one.log_weight + rest,
            one.cause,
        )
        for one in accounts
    ]

"""Gross, bag and net: which of three masses that should balance is wrong, and what was meant.

All functions work on whole columns at once. Masses are in grams; a missing mass is NaN.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.mass_causes import CauseWeights
from audit.models.slip_kinds import KINDS
from audit.models.written_number import close, slack, tidy, typed_unit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from audit.models.bag_use import BagUse
    from audit.models.keying import Channel
    from audit.models.net_prior import NetPrior

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["SlipShares", "Verdicts", "explain_balanced", "explain_broken"]

_GROSS, _BAG, _NET = 0, 1, 2
_CELLS = (_GROSS, _BAG, _NET)
_TEN = 10
_GRAMS_PER_KG = 1000.0
_LEAST = float(np.finfo(np.float64).tiny)


@dataclass(frozen=True, slots=True)
class SlipShares:
    """How often each slip in a row of three masses happens: all values come from the declarations.

    Attributes
    ----------
    slip_rate : float
        Probability that one typed field is wrong.
    copied, borrow : float
        Share of broken rows in which a number repeats the row above; in which net was taken away wrongly by a
        one, a ten or a hundred.
    not_subtracted, subtracted_twice, added : float
        Share of broken rows in which the bag went wrong as a whole.
    gross_net_exchanged, gross_bag_exchanged, bag_net_exchanged : float
        Share of broken rows in which two columns were exchanged.
    scaled_rows : float
        Share of broken rows in which several masses are out by ten or in kilograms.
    keying : Channel
        Slips in single numbers.
    """

    slip_rate: float
    copied: float
    borrow: float
    not_subtracted: float
    subtracted_twice: float
    added: float
    gross_net_exchanged: float
    gross_bag_exchanged: float
    bag_net_exchanged: float
    scaled_rows: float
    keying: Channel


@dataclass(frozen=True, slots=True)
class Verdicts:
    """What probably happened to each row.

    Attributes
    ----------
    posterior : ndarray, shape (n, len(CAUSES))
        Probability of each cause; rows sum to 1.
    kinds : ndarray of int, shape (n, 3)
        Index into `KINDS`: the likeliest way from the implied to the typed gross, bag and net.
    implied : ndarray, shape (n, 3)
        Gross, bag and net as the other two cells imply them, g.
    """

    posterior: Floats
    kinds: Ints
    implied: Floats


def explain_broken(
    triples: Floats,
    rows: Ints,
    bags: BagUse,
    prior: NetPrior,
    shares: SlipShares,
    *,
    allowed: Floats,
    above: Floats,
    doubt: Floats,
) -> Verdicts:
    """Weigh what can have happened to rows in which gross less bag is not net.

    Parameters
    ----------
    triples : ndarray, shape (k, 3)
        Gross, bag and net as typed, g; no missing values.
    rows : ndarray of int, shape (k,)
        Their positions among the bags.
    bags : BagUse
        Bags of the season.
    prior : NetPrior
        Net mass to expect of these k rows.
    shares : SlipShares
        How often each slip happens.
    allowed : ndarray, shape (k,)
        Imbalance that rounding allows, g.
    above : ndarray, shape (k, 3)
        Gross, bag and net of the row above, g.
    doubt : ndarray, shape (k, 3)
        How many times more likely than usual each cell is wrong (1 = as usual).

    References
    ----------
    Scholtus, S. (2009). Automatic correction of simple typing errors in numerical data with balance edits.
    Statistics Netherlands Discussion Paper 09046: for each cell the value that restores the balance.
    """
    gross, bag, net = triples.T
    unit = typed_unit(gross, bag, net)
    implied = tidy(np.stack([net + bag, gross - net, gross - bag], axis=1), unit[:, None])
    chances = _cell_chances(triples, implied, unit, shares, above)
    log_slip = np.log(np.maximum(chances.sum(axis=2) * doubt / len(_CELLS), _LEAST))
    bag_fits, net_fits = bags.log_chance(bag, unit, rows), prior.log_chance(net, unit)
    with_net = bag_fits + prior.log_chance(implied[:, _NET], unit)
    real = (bag > allowed) & (gross > bag)
    room = np.maximum(allowed, unit / 2)
    weights = CauseWeights(len(rows))
    weights.put("gross", log_slip[:, _GROSS] + bag_fits + net_fits)
    weights.put("bag", log_slip[:, _BAG] + bags.log_chance(implied[:, _BAG], unit, rows) + net_fits)
    weights.put("net", log_slip[:, _NET] + with_net)
    weights.put("not_subtracted", with_net, shares.not_subtracted, real & close(net, gross, room * 2))
    twice = real & close(net, gross - bag * 2, room * 2)
    weights.put("subtracted_twice", with_net, shares.subtracted_twice, twice)
    weights.put("added", with_net, shares.added, real & close(net, gross + bag, room * 2))
    weights.put(
        "gross_net_exchanged",
        bag_fits + prior.log_chance(gross, unit),
        shares.gross_net_exchanged,
        (bag > allowed) & close(gross, net - bag, room * 2),
    )
    weights.put(
        "gross_bag_exchanged",
        bags.log_chance(gross, unit, rows) + net_fits,
        shares.gross_bag_exchanged,
        close(bag, net + gross, room * 2),
    )
    in_grams = net * _GRAMS_PER_KG
    weights.put(
        "bird_kilograms",
        bag_fits + prior.log_chance(in_grams, unit),
        shares.scaled_rows,
        close(gross * _GRAMS_PER_KG - bag, in_grams, np.maximum(room * 2, 1.0)),
    )
    return Verdicts(weights.posterior(), chances.argmax(axis=2), implied)


def explain_balanced(
    triples: Floats, rows: Ints, bags: BagUse, prior: NetPrior, shares: SlipShares
) -> Verdicts:
    """Weigh what can be wrong with rows that balance.

    A row that balances can still be wrong as a whole: bag and net exchanged, all three out by ten or in
    kilograms, or net computed from a mistyped bag.

    Parameters
    ----------
    triples : ndarray, shape (k, 3)
        Gross, bag and net, g; no missing values (a missing one is computed from the others).
    rows, bags, prior, shares
        As in `explain_broken`.

    Returns
    -------
    Verdicts
        ``implied`` holds the values meant if net was computed from a mistyped bag.
    """
    gross, bag, net = triples.T
    unit = typed_unit(gross, bag, net)
    usual = bags.usual(rows)
    chance = shares.keying.numbers(bag, usual, unit)
    rate = shares.slip_rate * len(_CELLS)

    def scaled(factor: float) -> Floats:
        return bags.log_chance(bag * factor, unit, rows) + prior.log_chance(net * factor, unit)

    weights = CauseWeights(len(rows))
    weights.put("fine", scaled(1.0), 1 - rate)
    exchanged = bags.log_chance(net, unit, rows) + prior.log_chance(bag, unit)
    weights.put("bag_net_exchanged", exchanged, rate * shares.bag_net_exchanged)
    carried = (
        np.log(np.maximum(chance.sum(axis=1), _LEAST))
        + bags.log_chance(usual, unit, rows)
        + prior.log_chance(gross - usual, unit)
    )
    weights.put("bag_carried", carried, shares.slip_rate, (usual != bag) & (gross > usual))
    weights.put("all_a_tenth", scaled(float(_TEN)), rate * shares.scaled_rows / 2)
    weights.put("all_ten_times", scaled(1.0 / _TEN), rate * shares.scaled_rows / 2)
    weights.put("all_kilograms", scaled(_GRAMS_PER_KG), rate * shares.scaled_rows)
    kinds = np.zeros((len(rows), len(_CELLS)), dtype=np.int64)
    kinds[:, _BAG] = chance.argmax(axis=1)
    return Verdicts(weights.posterior(), kinds, np.stack([gross, usual, tidy(gross - usual, unit)], axis=1))


def _cell_chances(
    triples: Floats, implied: Floats, unit: Floats, shares: SlipShares, above: Floats
) -> Floats:
    """Probability of each typed cell given the implied one: shape (k, 3, kinds)."""
    chances = np.stack([shares.keying.numbers(triples[:, i], implied[:, i], unit) for i in _CELLS], axis=1)
    possible = chances[:, :, KINDS.index("unknown")] > 0
    repeats = np.abs(triples - above) <= slack(triples)
    chances[:, :, KINDS.index("copied")] = shares.copied * (repeats & possible)
    off = np.abs(triples[:, _NET] - implied[:, _NET])
    steps = (1, _TEN, _TEN * _TEN)
    by_a_step = np.logical_or.reduce([close(off, np.full_like(off, step), unit / _TEN) for step in steps])
    borrow = shares.borrow * (by_a_step & possible[:, _NET]) / (2 * len(steps))
    chances[:, _NET, KINDS.index("borrow")] = borrow
    return chances

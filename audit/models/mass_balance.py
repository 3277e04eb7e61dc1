"""Whether gross less bag is net: how far off, and how far rounding and the balance allow."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.written_number import slack, typed_unit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

__all__ = ["Room", "balance_steps", "imbalance", "rounding_room"]

_GROSS = 0


@dataclass(frozen=True, slots=True)
class Room:
    """How far each row may be out of balance without a slip.

    Attributes
    ----------
    allowed : ndarray, shape (n,)
        Imbalance that rounding allows, g.
    one_unit : ndarray of bool, shape (n,)
        Rows out of balance by no more than one unit of the coarsest number.
    """

    allowed: Floats
    one_unit: Flags


def imbalance(gross: Floats, bag: Floats, net: Floats) -> Floats:
    """Gross less bag less net, g; NaN where one of them is missing.

    Examples
    --------
    >>> import numpy as np
    >>> imbalance(np.array([395.0, 395.0]), np.array([22.0, 22.0]), np.array([373.0, 395.0])).tolist()
    [0.0, -22.0]
    """
    difference: Floats = gross - bag - net
    return np.where(np.abs(difference) <= slack(gross) + slack(bag) + slack(net), 0.0, difference)


def balance_steps(
    triples: Floats, group: Ints, *, steps: Sequence[float], share: float, rows: float
) -> Floats:
    """Find the step of the balance where the numbers as written do not show it, such as 5 g or 0.5 g.

    Parameters
    ----------
    triples : ndarray, shape (n, 3)
        Gross, bag and net, g.
    group : ndarray of int, shape (n,)
        Rows that are weighed on the same balance.
    steps : sequence of float
        Steps that balances have, g, from the finest to the coarsest.
    share, rows : float
        From this share of the rows of a group being whole steps, and this many rows, it is the step.

    Returns
    -------
    ndarray, shape (n,)
        The coarsest such step, g; NaN for rows of another group or with a number between two steps.
    """
    found = np.full(len(triples), np.nan)
    known = np.isfinite(triples)
    judged = known.any(axis=1)
    per_group = np.bincount(group[judged], minlength=int(group.max(initial=-1)) + 1)
    for step in steps:
        ratio = np.where(known, triples, 0.0) / step
        whole = judged & (np.abs(ratio - np.rint(ratio)) <= slack(ratio)).all(axis=1)
        fitting = np.bincount(group[whole], minlength=len(per_group))
        habit = (fitting >= rows) & (fitting >= share * per_group)
        found[whole & habit[group]] = step
    return found


def rounding_room(
    triples: Floats,
    *,
    habit_share: float,
    habit_rows: float,
    exact_share: float = 1.0,
    exact_rows: float = np.inf,
    firm_share: float = 0.0,
    firm_rows: float = np.inf,
    step: Floats | None = None,
) -> Room:
    """Find the imbalance that rounding explains.

    A net in whole grams beside a gross in tenths was rounded after the subtraction: it may be half a gram
    off. Masses written to one unit balance to the last digit, since net is computed from the other two,
    unless the season is in the habit of rounding all three on their own: then they may be one unit off.

    Parameters
    ----------
    triples : ndarray, shape (n, 3)
        Gross, bag and net, g.
    habit_share, habit_rows : float
        From this share of the rows, and this many, being one unit off is a habit.
    exact_share, exact_rows : float
        Where this share of the rows in two units balances to the last digit, and there are this many of them,
        a whole number among tenths is a tenth whose nought was left out, not a rounded number.
    firm_share, firm_rows : float
        Where so many rows balance, and no more than this share of them is one unit off, the season computes
        its nets to the last digit: then one unit off is a slip, not rounding.
    step : ndarray, shape (n,), optional
        Step of the balance on which each row was weighed, g, as of `balance_steps`; NaN where the numbers
        as written tell the unit.
    """
    off = np.abs(imbalance(*triples.T))
    units = np.stack([typed_unit(column) for column in triples.T])
    coarsest, finest = units.max(axis=0), units.min(axis=0)
    mixed = coarsest > finest
    if mixed.sum() >= exact_rows and (mixed & (off == 0)).sum() >= exact_share * mixed.sum():
        coarsest = finest
    if step is not None:
        stepped = np.isfinite(step)
        coarsest, finest = np.where(stepped, step, coarsest), np.where(stepped, step, finest)
    allowed = np.where(coarsest > finest, coarsest / 2 + slack(coarsest), 0.0)
    least = coarsest + slack(coarsest) + slack(np.nan_to_num(triples[:, _GROSS]))
    one_unit = (off > allowed) & (off <= least)
    slight, nearly = int(one_unit.sum()), int((off <= least).sum())
    if slight >= habit_rows and slight >= habit_share * nearly:
        allowed = np.maximum(allowed, least)
    elif (off <= allowed).sum() >= firm_rows and slight <= firm_share * (off <= allowed).sum():
        one_unit = np.zeros_like(one_unit)
    return Room(allowed, one_unit)

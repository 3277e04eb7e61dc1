"""How likely true measures are: their sum, the bags of the day, and how birds grow."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.explain.surroundings import MEASURES
from audit.models.written_number import slack, steps_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from audit.explain.surroundings import Surroundings
    from audit.rules.outlook import Outlook

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

__all__ = ["log_growth", "log_likelihood", "log_steps"]

_GROSS, _BAG, _NET, _WING = range(len(MEASURES))


def log_likelihood(around: Surroundings, rows: Ints, true: Floats) -> Floats:
    """Log probability of true measures of handlings.

    Parameters
    ----------
    rows : numpy.ndarray of int, shape (k,)
        Positions in the sheet; one may stand there many times.
    true : numpy.ndarray, shape (k, 4)
        Gross, bag, net, g, and wing, mm; NaN where a measure may have been anything.

    Returns
    -------
    numpy.ndarray, shape (k,)
    """
    gross, bag, net, wing = true.T
    there = np.isfinite(around.typed[rows])
    net = np.where(np.isfinite(net), net, gross - bag)
    impossible = np.isfinite(net) & (net <= 0) | (wing <= 0)
    off = np.nan_to_num(np.abs(gross - bag - net)) > around.allowed[rows] + slack(np.nan_to_num(gross))
    impossible |= there[:, : _NET + 1].all(axis=1) & off
    unbagged = there[:, _GROSS] & there[:, _NET] & ~there[:, _BAG]
    impossible |= unbagged & np.isfinite(gross) & (net >= gross)
    found = np.full(len(rows), -np.inf)
    # most of what one slip could have made does not come out, and need not be asked about
    some = np.flatnonzero(~impossible)
    rows, bag, net, wing = rows[some], bag[some], net[some], wing[some]
    grown = log_growth(around, rows, np.where(net > 0, net, np.nan), np.where(wing > 0, wing, np.nan))
    told = around.weighings.bags.log_chance(np.nan_to_num(bag, nan=-1.0), around.unit[rows], rows)
    found[some] = grown + np.where(there[some, _BAG] & np.isfinite(bag), told, 0.0)
    return found


def log_growth(around: Surroundings, rows: Ints, net: Floats, wing: Floats) -> Floats:
    """Log probability of net masses and wings of birds, given their broods, their lives and their season."""
    found = np.zeros(len(rows))
    for outlook, here in _by_outlook(around, rows):
        if outlook is None:
            prior = around.weighings.prior.of(rows[here])
            told = prior.log_chance(np.nan_to_num(net[here], nan=-1.0), around.unit[rows[here]])
            found[here] = np.where(np.isfinite(net[here]), told, 0.0)
            continue
        places = around.place[rows[here]]
        told = outlook.evidence(places, wing[here], net[here], outlook.birds.grown[places])
        steps = [
            log_steps(around, rows[here], cell, typed[here]) for cell, typed in ((_NET, net), (_WING, wing))
        ]
        found[here] = told + steps[0] + steps[1]
    return found


def log_steps(around: Surroundings, rows: Ints, cell: int, values: Floats) -> Floats:
    """Log of the step each value was written to, times how usual its decimals are among birds like it.

    Decimals in a column of whole numbers are odd, but the next one may be the first.
    """
    usual = around.decimals[rows, int(cell == _WING)]
    there = np.isfinite(values)
    step = steps_of(np.where(there, values, 0.0))
    told = np.where(step < 1, np.log(step) + np.log(usual), np.log1p(-usual))
    return np.where(there, told, 0.0)


def _by_outlook(around: Surroundings, rows: Ints) -> Iterator[tuple[Outlook | None, Ints]]:
    """Part rows by the outlook of their species; None for species that nobody declared."""
    known = around.place[rows] >= 0
    slugs = around.birds.slug[rows]
    for slug in dict.fromkeys(slugs[known].tolist()):
        yield around.outlooks[slug], np.flatnonzero(known & (slugs == slug))
    if not known.all():
        yield None, np.flatnonzero(~known)

"""Gross, bag and net of one weighing tied to each other, and what may be said of how net came about."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["weighed"]

_UNTIED = "as written on the sheet; gross mass and bag mass are not both noted"
_APART = "as written on the sheet; gross mass less bag mass is "


def weighed(made: Mapping[str, pd.DataFrame], occurrence: pd.Series, room: float) -> None:
    """Make net the parent of gross and bag, and say where net does not follow from them.

    Parameters
    ----------
    made : mapping of str to pandas.DataFrame
        Rows of ``gross_g``, ``bag_g`` and ``net_g``, index = row labels; changed in place.
    occurrence : pandas.Series of str
        Occurrence by row label.
    room : float
        Grams by which net may differ from gross less bag.
    """
    gross, bag, net = (made[field] for field in ("gross_g", "bag_g", "net_g"))
    for part in (gross, bag):
        tied = part.index.isin(net.index)
        part.loc[tied, "parentMeasurementID"] = occurrence.loc[part.index[tied]] + ":net_g"
    both = net.index.isin(gross.index) & net.index.isin(bag.index)
    net.loc[~both, "measurementMethod"] = _UNTIED
    at = net.index[both]
    numbers = [pd.to_numeric(part.loc[at, "measurementValue"]) for part in (gross, bag, net)]
    rest = (numbers[0] - numbers[1]).round(6)
    apart = at[((rest - numbers[2]).abs() > room).to_numpy()]
    net.loc[apart, "measurementMethod"] = [f"{_APART}{value:g} g" for value in rest.loc[apart]]
    ids = occurrence.loc[at]
    net.loc[at, "measurementRemarks"] = "with " + ids + ":gross_g and " + ids + ":bag_g"

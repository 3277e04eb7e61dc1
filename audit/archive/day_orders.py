"""Visits whose day does not stand in the order of their sheet, and the rows around them: a sieve."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from audit.archive.clashes import below

if TYPE_CHECKING:
    from collections.abc import Callable

    import pandas as pd
    from narwhals import LazyFrame
    from narwhals.typing import LazyFrameT

__all__ = ["DayLimits", "days_out_of_order", "rows_beside", "visits_beside"]

_TEAM = ("season", "scheme", "team")
_PLACE = ("box", "day")
_VISIT = (*_TEAM, *_PLACE)


@dataclass(frozen=True, slots=True)
class DayLimits:
    """When the days of a sheet count as being in order.

    Attributes
    ----------
    falls_share : float
        A team of whose visits a larger share stands below a later day does not type its season day by day.
    """

    falls_share: float


def days_out_of_order(marks: LazyFrameT, limits: DayLimits) -> LazyFrameT:
    """Find visits with which the days of a sheet go back, and without which they do not.

    Parameters
    ----------
    marks : frame
        Of `marks.marked`.
    limits : DayLimits

    Returns
    -------
    frame
        ``at`` of all their rows, in seasons of teams that are typed day by day; of two visits between which
        the days go back whichever is left out, or neither way, both.
    """
    import narwhals as nw

    day = nw.col("day")
    told = _visits(marks)
    falls = (nw.col("above") > day).fill_null(value=False)
    counted = told.with_columns(falls.cast(nw.Float64).alias("falls"))
    teams = counted.group_by(*_TEAM).agg(nw.col("falls").sum(), nw.len().alias("many"))
    orderly = (nw.col("falls") > 0) & (nw.col("falls") <= limits.falls_share * nw.col("many"))
    rises = (day > nw.col("below")).fill_null(value=False)
    # left out, it leaves the two beside it in order
    last = nw.any_horizontal(nw.col("above", "below").is_null(), ignore_nulls=True)
    alone = (falls | rises) & (last | (nw.col("above") <= nw.col("below")).fill_null(value=False))
    told = told.with_columns(falls.alias("falls"), rises.alias("rises"), alone.cast(nw.Int64).alias("alone"))
    told = _beside(told, "alone", "alone_above", "alone_below")
    # nor is any of the two in a place of its own: either may be the one
    above, below_it = (nw.col(f"alone_{side}") == 0 for side in ("above", "below"))
    out = (nw.col("alone") == 1) | (nw.col("falls") & above) | (nw.col("rises") & below_it)
    odd = told.filter(out).join(teams.filter(orderly).select(*_TEAM), on=list(_TEAM), how="semi")
    return marks.join(odd.select(*_VISIT), on=list(_VISIT), how="semi").select("at")


def rows_beside(at: pd.Series, rows: int) -> pd.DataFrame:
    """Give the numbers of the rows above and below some rows.

    Parameters
    ----------
    at : pandas.Series of int
        Numbers of rows.
    rows : int
        So many on each side.

    Returns
    -------
    pandas.DataFrame
        ``at``, each once; there may be no such row.
    """
    import numpy as np
    import pandas as pd

    steps = np.arange(-rows, rows + 1)
    near = np.unique(at.to_numpy(dtype=np.int64)[:, None] + steps)
    return pd.DataFrame({"at": near[near >= 0]})


def visits_beside(
    marks: LazyFrame[Any],
    some: LazyFrame[Any],
    odd: LazyFrame[Any],
    keep: Callable[[LazyFrame[Any], str], LazyFrame[Any]],
    *,
    pages: int,
) -> LazyFrame[Any]:
    """Take what shows the order of days around visits out of order.

    Parameters
    ----------
    marks : frame
        Of `marks.marked`.
    some : frame
        ``at`` of the rows above and below, each once: their visits are taken whole.
    odd : frame
        ``at`` of the rows out of order, each once.
    keep : callable
        Works a relation out once, under a name.
    pages : int
        Visits of one day that stand together are a page; so many pages above and below show the order, and of
        each its first visit is taken, since a day of a round may have more rows than are beside a row.

    Returns
    -------
    frame
        ``at``, ``season``, ``scheme``, ``team``, each row once; of the teams and seasons of the odd ones.
    """
    import narwhals as nw

    team, page = list(_TEAM), [*_TEAM, "page"]
    teams = marks.join(odd, on="at", how="semi").select(*team).unique()
    there = _visits(marks.join(teams, on=team, how="semi"))
    turned = (nw.col("day") != nw.col("above")).fill_null(value=True)
    paged = there.with_columns(turned.cast(nw.Int64).cum_sum().over(*team, order_by="first").alias("page"))
    paged = keep(paged.select(*_VISIT, "first", "page"), "pages_of_visits")
    in_doubt = marks.join(odd, on="at", how="semi").select(*_VISIT).unique()
    of_odd = paged.join(in_doubt, on=list(_VISIT), how="semi").select(*page).unique()
    near = below([of_odd.with_columns(nw.col("page") + step) for step in range(-pages, pages + 1)]).unique()
    first = paged.join(near, on=page, how="semi").group_by(*page).agg(nw.col("first").min())
    shown = paged.join(first, on=[*page, "first"], how="semi").select(*_VISIT)
    beside = marks.join(some, on="at", how="semi").select(*_VISIT).join(teams, on=team, how="semi")
    visits = below([shown, beside]).unique()
    return marks.select("at", *_VISIT).join(visits, on=list(_VISIT), how="semi").select("at", *_TEAM)


def _visits(marks: LazyFrameT) -> LazyFrameT:
    """Give the visits in the order of their first rows, with the days above and below."""
    import narwhals as nw

    placed = marks.filter(~nw.any_horizontal(nw.col(*_PLACE).is_null(), ignore_nulls=True))
    visits = placed.group_by(*_VISIT).agg(nw.col("at").min().alias("first"))
    return _beside(visits, "day", "above", "below")


def _beside(visits: LazyFrameT, name: str, above: str, below_it: str) -> LazyFrameT:
    """Give what the visits above and below on the sheet have in a column."""
    import narwhals as nw

    return visits.with_columns(
        nw.col(name).shift(by).over(*_TEAM, order_by="first").alias(side)
        for by, side in ((1, above), (-1, below_it))
    )

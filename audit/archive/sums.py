"""Rows in which gross less bag is not net, or nothing is left for the bird."""

from __future__ import annotations

from functools import reduce
from operator import or_
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from narwhals import Expr
    from narwhals.typing import LazyFrameT

__all__ = ["broken_sums"]

_MASSES = ("gross_g", "bag_g", "net_g")
#: Whose habits of weighing are one.
_TEAM = ("season", "scheme", "team")
_TENTH, _HUNDREDTH = 0.1, 0.01
_SLACK = 1e-6


def broken_sums(rows: LazyFrameT, *, habit_share: float, habit_rows: float) -> LazyFrameT:
    """Find the sums that the rule ``tare`` has to be asked about.

    Parameters
    ----------
    rows : frame
        Handlings laid out.
    habit_share, habit_rows : float
        A team of which this share of the sums, and this many, is one unit off has the habit of rounding all
        three masses: then one unit is nothing.

    Returns
    -------
    frame
        ``at`` of each row whose sum is off by more than a net rounded from finer masses can be, or of which
        nothing is left for the bird.
    """
    import narwhals as nw

    gross, bag, net = (nw.col(name) for name in _MASSES)
    units = [_unit(nw.col(name)) for name in _MASSES]
    coarsest, finest = nw.max_horizontal(*units), nw.min_horizontal(*units)
    weighed = rows.filter(
        reduce(or_, (~nw.col(one).is_null() & ~nw.col(two).is_null() for one, two in _pairs()))
    )
    told = weighed.select("at", *_TEAM, *_MASSES, coarsest.alias("coarsest"), finest.alias("finest"))
    off = (gross - bag - net).abs()
    told = told.with_columns(
        off.alias("off"),
        nw.when(nw.col("coarsest") > nw.col("finest"))
        .then(nw.col("coarsest") / 2)
        .otherwise(nw.lit(0.0))
        .alias("room"),
    )
    near = nw.col("off") <= nw.col("coarsest") + _SLACK
    told = told.with_columns(
        (near.fill_null(value=False)).cast(nw.Int64).alias("near"),
        (near & (nw.col("off") > nw.col("room") + _SLACK))
        .fill_null(value=False)
        .cast(nw.Int64)
        .alias("slight"),
    )
    habits = told.group_by(*_TEAM).agg(
        nw.col("near").sum().alias("many"), nw.col("slight").sum().alias("some")
    )
    habits = habits.with_columns(
        ((nw.col("some") >= habit_rows) & (nw.col("some") >= habit_share * nw.col("many"))).alias("rounds")
    )
    told = told.join(habits.select(*_TEAM, "rounds"), on=list(_TEAM), how="left")
    odd = (nw.col("off") > nw.col("room") + _SLACK) & ~((nw.col("slight") == 1) & nw.col("rounds"))
    sunk = net.is_null() & (gross <= bag)
    swollen = bag.is_null() & (net > gross)
    return told.filter(
        odd.fill_null(value=False) | sunk.fill_null(value=False) | swollen.fill_null(value=False)
    ).select("at")


def _pairs() -> tuple[tuple[str, str], ...]:
    return tuple((one, two) for one, two in zip(_MASSES, _MASSES[1:] + _MASSES[:1], strict=True))


def _unit(cell: Expr) -> Expr:
    """Give the unit to which a number was written: 1, a tenth or a hundredth; 1 where none stands."""
    import narwhals as nw

    def whole(times: int) -> Expr:
        scaled = cell.fill_null(0.0) * times
        return (scaled - scaled.round(0)).abs() <= _SLACK * times

    return (
        nw.when(whole(1))
        .then(nw.lit(1.0))
        .otherwise(nw.when(whole(10)).then(nw.lit(_TENTH)).otherwise(nw.lit(_HUNDREDTH)))
    )

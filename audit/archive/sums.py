"""Rows in which gross less bag is not net, or nothing is left for the bird."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from narwhals import Expr
    from narwhals.typing import LazyFrameT

__all__ = ["broken_sums", "missed_sums", "slight_teams"]

_MASSES = ("gross_g", "bag_g", "net_g")
#: Whose habits of weighing are one.
_TEAM = ("season", "scheme", "team")
_TENTH, _HUNDREDTH = 0.1, 0.01
_SLACK = 1e-6


def missed_sums(rows: LazyFrameT) -> LazyFrameT:
    """Take the rows whose sum does not come out, or of which nothing is left for the bird: few of all.

    Parameters
    ----------
    rows : frame
        Handlings laid out.

    Returns
    -------
    frame
        ``at``, team and masses; how far the sum is ``off``, how far rounding may put it (``room``); as
        numbers, whether it is within a unit (``near``), and off by more than rounding of net (``slight``).
    """
    import narwhals as nw

    off = _off()
    missed = (off > _SLACK).fill_null(value=False)
    told = _with_units(rows.filter(missed | _nothing_left()).select("at", *_TEAM, *_MASSES, off.alias("off")))
    near = nw.col("off") <= nw.col("coarsest") + _SLACK
    slight = near & (nw.col("off") > nw.col("room") + _SLACK)
    return told.with_columns(
        near.fill_null(value=False).cast(nw.Float64).alias("near"),
        slight.fill_null(value=False).cast(nw.Float64).alias("slight"),
    )


def slight_teams(missed: LazyFrameT, *, habit_rows: float) -> LazyFrameT:
    """List the teams that may have the habit of rounding all three masses, from `missed_sums`."""
    import narwhals as nw

    some = missed.group_by(*_TEAM).agg(nw.col("near").sum(), nw.col("slight").sum().alias("some"))
    return some.filter(nw.col("some") >= habit_rows)


def broken_sums(missed: LazyFrameT, rows: LazyFrameT, *, habit_share: float, habit_rows: float) -> LazyFrameT:
    """Find the sums that the rule ``tare`` has to be asked about.

    Parameters
    ----------
    missed : frame
        From `missed_sums`.
    rows : frame
        Handlings laid out; none are needed where no team is slight.
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

    some = slight_teams(missed, habit_rows=habit_rows)
    exact = rows.filter(_off() <= _SLACK).select("at", *_TEAM).join(some, on=list(_TEAM), how="semi")
    habits = some.join(exact.group_by(*_TEAM).agg(nw.len().alias("exact")), on=list(_TEAM), how="left")
    many = nw.col("near") + nw.col("exact").fill_null(0)
    habits = habits.filter(nw.col("some") >= habit_share * many).with_columns(nw.lit(1.0).alias("rounds"))
    told = missed.join(habits.select(*_TEAM, "rounds"), on=list(_TEAM), how="left")
    excused = (nw.col("slight") == 1) & (nw.col("rounds").fill_null(0.0) == 1)
    odd = ((nw.col("off") > nw.col("room") + _SLACK) & ~excused).fill_null(value=False)
    return told.filter(odd | _nothing_left()).select("at")


def _off() -> Expr:
    import narwhals as nw

    gross, bag, net = (nw.col(name) for name in _MASSES)
    return (gross - bag - net).abs()


def _nothing_left() -> Expr:
    """Whether the bag takes all, where one of the three masses is missing."""
    import narwhals as nw

    gross, bag, net = (nw.col(name) for name in _MASSES)
    sunk, swollen = net.is_null() & (gross <= bag), bag.is_null() & (net > gross)
    return sunk.fill_null(value=False) | swollen.fill_null(value=False)


def _with_units(told: LazyFrameT) -> LazyFrameT:
    """Tell the coarsest unit to which the masses of a row are written, and how far rounding puts net off."""
    import narwhals as nw

    units = [_unit(nw.col(name)) for name in _MASSES]
    told = told.with_columns(
        nw.max_horizontal(*units).alias("coarsest"), nw.min_horizontal(*units).alias("finest")
    )
    coarse = nw.col("coarsest") > nw.col("finest")
    return told.with_columns(nw.when(coarse).then(nw.col("coarsest") / 2).otherwise(0.0).alias("room"))


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

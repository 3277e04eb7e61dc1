"""Rings of a visit that do not follow each other, and birds that stand beside their visit: a sieve."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from audit.archive.clashes import below

if TYPE_CHECKING:
    from collections.abc import Callable

    import pandas as pd
    from narwhals import Expr, LazyFrame
    from narwhals.typing import LazyFrameT

    from audit.archive.engine import Engine

__all__ = ["OrderLimits", "beside_their_visit", "out_of_order"]

_TEAM = ("season", "scheme", "team")
_VISIT = (*_TEAM, "box", "day", "kind")
_PLACE = ("box", "day")
_TWO, _THREE = 2, 3
#: Letters before the digits of nearly all rings, at most.
_LETTERS = 3


@dataclass(frozen=True, slots=True)
class OrderLimits:
    """When rings count as following each other.

    Attributes
    ----------
    shuffled_share : float
        A team of which more visits have their rings in another order than that of the rows does not type them
        in order.
    gap_most : float
        So many missing numbers are lost rings.
    brood_days : float
        Days between which a box has one brood.
    string_rings : float
        Rings of a string.
    """

    shuffled_share: float
    gap_most: float
    brood_days: float
    string_rings: float


def _put_on(marks: LazyFrameT) -> LazyFrameT:
    import narwhals as nw

    known = ~nw.any_horizontal(nw.col("ring", "box", "day").is_null(), ignore_nulls=True)
    put_on = known & (nw.col("event").fill_null("ringed") == "ringed")
    return marks.filter(put_on).with_columns(nw.col("kind").fill_null(""))


def out_of_order(
    marks: LazyFrame[Any],
    limits: OrderLimits,
    keep: Callable[[LazyFrame[Any], str], LazyFrame[Any]],
) -> LazyFrame[Any]:
    """Find first ringings of a visit whose numbers do not run as those of its other rows.

    Parameters
    ----------
    marks : frame
        Of `marks.marked`.
    limits : OrderLimits
    keep : callable
        Keeps a relation that several questions use, under a name.

    Returns
    -------
    frame
        ``at`` of all rows of a visit whose rings stand in another order than the rows, in teams that type
        them in order; and of rings that are far from all others of their visit.
    """
    import narwhals as nw

    number, at = nw.col("number"), nw.col("at").cast(nw.Float64)
    put_on = _put_on(marks).select("at", *_VISIT, "ring")
    run = put_on.select("at", *_VISIT, _number().alias("number")).with_columns((number - at).alias("step"))
    visits = run.group_by(*_VISIT).agg(
        nw.len().alias("many"),
        number.min().alias("least"),
        number.max().alias("most"),
        nw.col("step").min().alias("step_least"),
        nw.col("step").max().alias("step_most"),
        nw.col("at").min().alias("first"),
        nw.col("at").max().alias("last"),
    )
    visits = keep(visits.filter(nw.col("many") >= _TWO), "rings_of_visits")
    many, span = nw.col("many"), nw.col("most") - nw.col("least") + 1
    # rings that rise by one from row to row keep their distance to the rows, but for those that were lost
    whole = visits.filter((span <= many + limits.gap_most) & (nw.col("last") - nw.col("first") + 1 == many))
    shuffled = whole.filter(nw.col("step_most") - nw.col("step_least") > span - many)
    teams = whole.group_by(*_TEAM).agg(nw.len().alias("all"))
    untidy = shuffled.group_by(*_TEAM).agg(nw.len().alias("some"))
    untidy = untidy.join(teams, on=list(_TEAM), how="inner")
    untidy = untidy.filter(
        (nw.col("some") > limits.shuffled_share * nw.col("all")) & (nw.col("some") >= _THREE)
    )
    shuffled = shuffled.join(untidy.select(*_TEAM), on=list(_TEAM), how="anti")
    wide = visits.filter((many >= _THREE) & (span > many + limits.gap_most)).select(*_VISIT)
    parts = [
        put_on.join(shuffled.select(*_VISIT), on=list(_VISIT), how="semi").select("at"),
        _apart(put_on.join(wide, on=list(_VISIT), how="semi"), limits),
    ]
    return below(parts)


def _number() -> Expr:
    """Take the digits of a ring for one number."""
    import narwhals as nw

    ring = nw.col("ring")
    digits = ring.str.replace_all("[^0-9]", "")
    # to cut a few letters off takes a fifth of the time that leaving all but digits out takes
    for letters in range(_LETTERS + 1):
        plain = ring.str.contains(f"^[A-Z]{{{letters}}}[0-9]+$").fill_null(value=False)
        digits = nw.when(plain).then(ring.str.slice(letters)).otherwise(digits)
    return digits.cast(nw.Float64)


def _apart(run: LazyFrameT, limits: OrderLimits) -> LazyFrameT:
    """Take the rings far from all others of their visit, but not those that begin or end a string."""
    import narwhals as nw

    number = nw.col("number")
    run = run.with_columns(_number().alias("number"))
    sides = run.with_columns(
        (number - number.shift(1).over(*_VISIT, order_by=["number", "at"])).alias("below"),
        (number.shift(-1).over(*_VISIT, order_by=["number", "at"]) - number).alias("above"),
    )
    far = [nw.col(side).is_null() | (nw.col(side) > limits.gap_most + 1) for side in ("below", "above")]
    first, last = nw.col("below").is_null(), nw.col("above").is_null()
    of_string = (last & (number % limits.string_rings == 1)) | (first & (number % limits.string_rings == 0))
    return sides.filter(far[0] & far[1] & ~of_string).select("at")


def beside_their_visit(engine: Engine, marks: LazyFrame[Any], limits: OrderLimits) -> pd.DataFrame:
    """Find birds alone with their box and day, while the rows, or the rings, beside theirs are of one visit.

    Parameters
    ----------
    engine : Engine
    marks : frame
        Of `marks.marked`.
    limits : OrderLimits

    Returns
    -------
    pandas.DataFrame
        ``at`` of each such row; may stand twice.
    """
    import narwhals as nw
    import pandas as pd

    placed = marks.filter(~nw.any_horizontal(nw.col(*_PLACE).is_null(), ignore_nulls=True))
    where = [*_TEAM, *_PLACE]
    alone = placed.group_by(*where).agg(nw.len().alias("many")).filter(nw.col("many") == 1)
    # an engine that knows how many they are joins the few first
    lone = engine.keep(placed.join(alone.select(*where), on=where, how="semi"), "lone")
    between = _between(placed, lone)
    young = engine.frame(_put_on(lone).filter(nw.col("pullus")).select("at", *_TEAM, "ring", *_PLACE))
    parts = [engine.frame(between), young.iloc[:0][["at"]]]
    if len(young):
        near = pd.concat([_beside(young, by) for by in (-1, 1)], ignore_index=True)
        table = engine.table(near[["scheme", "ring"]].drop_duplicates(), "rings_beside")
        there = _put_on(placed).join(table, on=["scheme", "ring"], how="semi")
        broods = (
            there.join(alone.select(*where), on=where, how="anti")
            .select("at")
            .with_columns(nw.lit(1.0).alias("brood"))
        )
        told = there.join(broods, on="at", how="left").with_columns(nw.col("brood").fill_null(0.0))
        known = engine.frame(told.select("scheme", "ring", "brood", *_PLACE))
        near = near.merge(_known_boxes(engine, placed, young), on="at")
        # of a ring that was put on twice any one, but always the same
        known = known.sort_values(["scheme", "ring", *_PLACE]).drop_duplicates(["scheme", "ring"])
        parts.append(_of_one_visit(near.merge(known, on=["scheme", "ring"], suffixes=("", "_there")), limits))
    return pd.concat(parts, ignore_index=True)


def _between(placed: LazyFrame[Any], lone: LazyFrame[Any]) -> LazyFrame[Any]:
    """Take the rows that stand between two rows of one visit, or of one other day."""
    import narwhals as nw

    rows = placed.select("at", *_PLACE)
    found = lone.select(nw.col("at").alias("odd"), "day")
    for by, side in ((-1, "above"), (1, "below")):
        beside = rows.select(
            (nw.col("at") - by).alias("odd"), *(nw.col(name).alias(f"{name}_{side}") for name in _PLACE)
        )
        found = found.join(beside, on="odd", how="inner")
    box, day = (nw.col(f"{name}_above") == nw.col(f"{name}_below") for name in _PLACE)
    other = nw.col("day") != nw.col("day_above")
    return found.filter(day & (box | other)).select(nw.col("odd").alias("at"))


def _of_one_visit(both: pd.DataFrame, limits: OrderLimits) -> pd.DataFrame:
    """Take the birds whose neighbours by ring were ringed at one other visit, or at one of the same box."""
    both = both[(both["box"] != both["box_there"]) | (both["day"] != both["day_there"])]
    at = both["at"]
    sides = at.groupby(at).transform("size")
    visits = (both["box_there"] + " " + both["day_there"].astype("str")).groupby(at).transform("nunique")
    home = (both["box"] == both["box_there"]) & ((both["day"] - both["day_there"]).abs() <= limits.brood_days)
    # a brood of one has a box of its own, which is known and holds no other brood
    strange = (both["day"] == both["day_there"]) & (both["brood"] == 1)
    strange &= (both["ringed"] > _TWO) | (both["rows"] == 1)
    return both.loc[((sides == _TWO) & (visits == 1)) | home | strange, ["at"]].drop_duplicates()


def _known_boxes(engine: Engine, placed: LazyFrame[Any], young: pd.DataFrame) -> pd.DataFrame:
    """Tell how many birds were ringed in the box of each row that season, and how many rows it has at all."""
    import narwhals as nw

    box, of_box = (
        ["scheme", "team", "box"],
        engine.table(young[["scheme", "team", "box"]].drop_duplicates(), "of_lone"),
    )
    there = placed.select("season", *box, "event").join(of_box, on=box, how="semi")
    seasons = engine.frame(there.group_by("season", *box, "event").agg(nw.len().alias("many")))
    rows = seasons.groupby(box)["many"].sum().rename("rows").reset_index()
    put_on = seasons[seasons["event"].fillna("ringed") == "ringed"]
    ringed = put_on.groupby(["season", *box])["many"].sum().rename("ringed").reset_index()
    told = young.merge(rows, on=box).merge(ringed, on=["season", *box])
    return told[["at", "rows", "ringed"]]


def _beside(lone: pd.DataFrame, by: int) -> pd.DataFrame:
    """Give the rings just below, or above, with the row beside which each may stand."""
    parts = lone["ring"].str.extract("^(.*?)([0-9]{1,15})$")
    digits = parts[1].dropna()
    number = digits.astype("int64") + by
    width = digits.str.len()
    texts = [f"{one:0{wide}d}" for one, wide in zip(number.clip(lower=0), width, strict=True)]
    ring = parts[0].loc[digits.index] + texts
    return lone.loc[digits.index, ["at", "scheme", *_PLACE]].assign(ring=ring)

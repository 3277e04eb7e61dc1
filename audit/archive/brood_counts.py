"""Brood sizes, ages and days that do not go together within a visit, or with the season: a sieve."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from audit.archive.clashes import below

if TYPE_CHECKING:
    from collections.abc import Mapping

    from narwhals import LazyFrame
    from narwhals.typing import LazyFrameT

    from audit.archive.engine import Engine

__all__ = ["SeasonLimits", "mixed_kinds", "odd_broods", "out_of_season", "unknown_young"]

_TEAM = ("season", "scheme", "team")
_VISIT = (*_TEAM, "box", "date")
_YEAR = 365


@dataclass(frozen=True, slots=True)
class SeasonLimits:
    """When days and birds do not belong to a season.

    Attributes
    ----------
    season_days : float
        A season reaches so many days into the years beside its own.
    age_days_off : float
        An age in days is off by no more.
    habit_share, habit_rows : float
        From this share of its rows on, and more than so many, what is odd is the way of a team.
    """

    season_days: float
    age_days_off: float
    habit_share: float
    habit_rows: float


def odd_broods(rows: LazyFrameT, stored: Mapping[str, Any], limits: SeasonLimits) -> LazyFrameT:
    """Find visits whose rows tell several brood sizes, and ages that do not fit the day of hatching.

    Parameters
    ----------
    rows : frame
        Handlings laid out.
    stored : mapping
        Columns that are there.
    limits : SeasonLimits

    Returns
    -------
    frame
        ``at`` of each such row.
    """
    import narwhals as nw

    parts = [rows.select("at").filter(nw.col("at").is_null())]
    size, day, hatched = nw.col("brood_size"), nw.col("date"), nw.col("hatch_date")
    if "brood_size" in stored:
        told = rows.filter(
            ~nw.any_horizontal(nw.col("brood_size", "box", "date").is_null(), ignore_nulls=True)
        )
        told = told.select("at", *_VISIT, "brood_size")
        visits = told.group_by(*_VISIT).agg(size.min().alias("least"), size.max().alias("most"))
        mixed = visits.filter(nw.col("least") < nw.col("most")).select(*_VISIT)
        parts.append(told.join(mixed, on=list(_VISIT), how="semi").select("at"))
    if "hatch_date" in stored:
        late = hatched > day
        if "age_days" in stored:
            late = late | ((day - hatched - nw.col("age_days")).abs() > limits.age_days_off).fill_null(
                value=False
            )
        parts.append(rows.filter(late.fill_null(value=False)).select("at"))
    return below(parts)


def mixed_kinds(marks: LazyFrameT) -> LazyFrameT:
    """Find young that are alone of their species at a visit to young of another one.

    Parameters
    ----------
    marks : frame
        Of `marks.marked`.

    Returns
    -------
    frame
        ``at`` of each; those beside them are judged with them anyway.
    """
    import narwhals as nw

    told = ~nw.any_horizontal(nw.col("kind", "box", "day").is_null(), ignore_nulls=True)
    young = marks.filter(nw.col("pullus") & told)
    visit = [*_TEAM, "box", "day"]
    kinds = young.group_by(*visit, "kind").agg(nw.len().alias("many"))
    several = kinds.group_by(*visit).agg(nw.len().alias("kinds")).filter(nw.col("kinds") > 1)
    alone = kinds.filter(nw.col("many") == 1).join(several.select(*visit), on=visit, how="semi")
    return young.join(alone.select(*visit, "kind"), on=[*visit, "kind"], how="semi").select("at")


def out_of_season(engine: Engine, marks: LazyFrame[Any], limits: SeasonLimits) -> LazyFrame[Any]:
    """Find days far from the year that a season is named by.

    Parameters
    ----------
    engine : Engine
    marks : frame
        Of `marks.marked`.
    limits : SeasonLimits

    Returns
    -------
    frame
        ``at`` of each such row, in seasons nearly all of whose days are of their year.
    """
    import narwhals as nw
    import pandas as pd

    seasons = engine.frame(marks.select("season").unique())["season"]
    years = seasons[seasons.str.fullmatch("[0-9]{4}")]
    first = pd.to_datetime(years + "-01-01", errors="coerce")
    begins = (first - pd.Timestamp(0)) // pd.Timedelta(days=1)
    table = pd.DataFrame({"season": years, "begins": begins.astype("float64")}).dropna()
    of_year = engine.table(table.reset_index(drop=True), "years")
    dated = marks.filter(~nw.col("day").is_null()).select("at", *_TEAM, "day")
    dated = dated.join(of_year, on="season", how="inner")
    since = nw.col("day") - nw.col("begins")
    odd = (since < -limits.season_days) | (since > _YEAR + limits.season_days)
    told = dated.with_columns(odd.cast(nw.Float64).alias("odd"))
    return _unusual(told, limits).select("at")


def unknown_young(marks: LazyFrameT, again: LazyFrameT, limits: SeasonLimits) -> LazyFrameT:
    """Find nestlings that are said to be met again, though nothing is told of them before.

    Parameters
    ----------
    marks, again : frame
        Of `marks.marked`; those of rings that are told of more than once.
    limits : SeasonLimits

    Returns
    -------
    frame
        ``at`` of each such row, but of teams that ring few of their young themselves.
    """
    import narwhals as nw

    met = nw.col("pullus") & (nw.col("event") == "re-encountered")
    begins = again.group_by("scheme", "ring").agg(nw.col("day").min().alias("begins"))
    known = again.filter(met).select("at", "scheme", "ring", "day").join(begins, on=["scheme", "ring"])
    known = known.filter(nw.col("day") > nw.col("begins")).select("at", nw.lit(0.0).alias("odd"))
    told = marks.filter(met & ~nw.col("ring").is_null()).select("at", *_TEAM)
    told = told.join(known, on="at", how="left").with_columns(nw.col("odd").fill_null(1.0))
    return _unusual(told, limits).select("at")


def _unusual(told: LazyFrameT, limits: SeasonLimits) -> LazyFrameT:
    """Take what is ``odd``, but of teams of whose season it is the way."""
    import narwhals as nw

    teams = told.group_by(*_TEAM).agg(nw.col("odd").sum().alias("some"), nw.len().alias("all"))
    way = (nw.col("some") > limits.habit_share * nw.col("all")) & (nw.col("some") > limits.habit_rows)
    teams = teams.filter((nw.col("some") > 0) & ~way).select(*_TEAM)
    return told.filter(nw.col("odd") == 1).join(teams, on=list(_TEAM), how="semi")

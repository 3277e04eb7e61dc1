"""Rows unlike their team, their visit or their season: why each of them is looked at."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

from audit.archive.brood_counts import SeasonLimits, mixed_kinds, odd_broods, out_of_season, unknown_young
from audit.archive.clashes import below
from audit.archive.day_orders import DayLimits, days_out_of_order
from audit.archive.odd_forms import FormLimits, odd_bags, odd_legs, odd_rings, odd_tags
from audit.archive.tag_lives import changed_tags, changed_young
from audit.archive.visit_orders import OrderLimits, beside_their_visit, out_of_order

if TYPE_CHECKING:
    import pandas as pd
    from narwhals import LazyFrame

    from audit.archive.engine import Engine
    from audit.archive.laid import Laid
    from audit.declarations import Declarations

__all__ = ["odd_days", "odd_forms", "odd_orders", "odd_places"]

Limits = TypeVar("Limits", DayLimits, FormLimits, OrderLimits, SeasonLimits)


def odd_forms(engine: Engine, laid: Laid, marks: LazyFrame[Any], declared: Declarations) -> pd.DataFrame:
    """Find rings, tags, legs and bags unlike those of their team.

    Parameters
    ----------
    engine : Engine
    laid : Laid
    marks : narwhals.LazyFrame
        From `laid.lay_out`.
    declared : Declarations

    Returns
    -------
    pandas.DataFrame
        ``at`` of each such row, once.
    """
    limits = _limits(FormLimits, declared)
    parts = [
        odd_rings(engine, marks, limits),
        odd_tags(marks, limits),
        odd_legs(laid.rows, laid.raw.stored, limits),
        odd_bags(marks, limits),
    ]
    return engine.frame(below(parts).unique())


def odd_places(
    engine: Engine,
    laid: Laid,
    marks: LazyFrame[Any],
    again: LazyFrame[Any],
    doubtful: LazyFrame[Any],
    declared: Declarations,
) -> pd.DataFrame:
    """Find rows that do not go together with their visit, their season or their bird's ringing.

    Those out of the order of rings are another question, `odd_orders`.

    Parameters
    ----------
    engine, laid, marks, declared
        As for `odd_forms`.
    again, doubtful : narwhals.LazyFrame
        From `ring_lives.met_again` and `ring_lives.doubtful_rings`.

    Returns
    -------
    pandas.DataFrame
        ``at`` of each such row, once.
    """
    import pandas as pd

    order, season = _limits(OrderLimits, declared), _limits(SeasonLimits, declared)
    parts = [
        odd_broods(laid.rows, laid.raw.stored, season),
        mixed_kinds(marks),
        out_of_season(engine, marks, season),
        unknown_young(marks, again, season),
        changed_young(doubtful),
        changed_tags(doubtful),
    ]
    found = [engine.frame(below(parts).unique()), beside_their_visit(engine, marks, order)]
    return pd.concat(found, ignore_index=True).drop_duplicates()


def odd_orders(engine: Engine, marks: LazyFrame[Any], declared: Declarations) -> pd.DataFrame:
    """Find first ringings out of the order of their visit: ``at`` of each such row, once."""
    return engine.frame(out_of_order(marks, _limits(OrderLimits, declared), engine.keep).unique())


def odd_days(engine: Engine, marks: LazyFrame[Any], declared: Declarations) -> pd.DataFrame:
    """Find visits between which the days of a sheet go back: ``at`` of each of their rows, once."""
    return engine.frame(days_out_of_order(marks, _limits(DayLimits, declared)).unique())


def _limits(kind: type[Limits], declared: Declarations) -> Limits:
    """Take the numbers of a sieve out of the declarations."""
    names = kind.__dataclass_fields__
    return kind(**{name: float(declared.settings[f"archive.company.{name}"].value) for name in names})

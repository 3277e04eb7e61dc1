"""How rows that contradict each other are told: one line for each pair."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

if TYPE_CHECKING:
    from collections.abc import Sequence

    from narwhals import Expr
    from narwhals.typing import LazyFrameT

__all__ = ["BEFORE", "below", "changed", "clash", "with_before"]

#: Order of rows in a bird's life.
BEFORE = ("day", "at")


def clash(rows: LazyFrameT, rule: str, odd: Expr, other: Expr) -> LazyFrameT:
    """Tell of rows that contradict another one.

    Parameters
    ----------
    rows : frame
        With ``at``.
    rule : str
        Name of the rule.
    odd : narwhals.Expr
        Which rows; a missing answer is no.
    other : narwhals.Expr
        Number of the row that each contradicts.
    """
    import narwhals as nw

    found = rows.filter(odd.fill_null(value=False))
    return found.select(nw.lit(rule).alias("rule"), "at", other.cast(nw.Float64).alias("other"))


def below(parts: Sequence[LazyFrameT]) -> LazyFrameT:
    """Put frames with the same columns below each other, in any order."""
    import narwhals as nw

    whole: Any = nw.concat(list(parts), how="vertical")
    return cast("LazyFrameT", whole)


def changed(column: str) -> Expr:
    """Whether a column says something else than in the row before; no where either is missing.

    In some engines what is missing is unlike everything.
    """
    import narwhals as nw

    now, before = nw.col(column), nw.col(f"{column}_before")
    return (now != before) & ~now.is_null() & ~before.is_null()


def with_before(rows: LazyFrameT, columns: Sequence[str], keys: Sequence[str]) -> LazyFrameT:
    """Put beside each row what stands in the row before it of the same keys, by day and place.

    Parameters
    ----------
    rows : frame
        With ``day``, ``at`` and the keys, none of them missing.
    columns : sequence of str
        Columns whose value before is told as ``<column>_before``.
    keys : sequence of str
        What rows must share.
    """
    import narwhals as nw

    return rows.with_columns(
        *(
            nw.col(name).shift(1).over(*keys, order_by=list(BEFORE)).alias(f"{name}_before")
            for name in columns
        )
    )

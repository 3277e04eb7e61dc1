"""Rows that stand twice in an archive: one file given twice, or one row copied."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.archive.clashes import clash
from audit.archive.laid_out import PLACE, unread_name

if TYPE_CHECKING:
    from narwhals.typing import LazyFrameT

    from audit.declarations.tables import TableDeclaration

__all__ = ["REPEATED", "likely_repeated", "repeated"]

#: Name of the rule.
REPEATED = "repeated"
#: What two rows share before all else is compared.
_FIRST = ("scheme", "ring", "date", "box")


def likely_repeated(rows: LazyFrameT) -> LazyFrameT:
    """Take the handlings that share scheme, ring, day and box with another one."""
    import narwhals as nw

    known = rows.filter(~nw.any_horizontal(*(nw.col(name).is_null() for name in _FIRST), ignore_nulls=True))
    counts = known.group_by(*_FIRST).agg(nw.len().alias("many")).filter(nw.col("many") > 1)
    return known.join(counts.select(*_FIRST), on=list(_FIRST), how="semi")


def repeated(few: LazyFrameT, table: TableDeclaration) -> LazyFrameT:
    """Find rows that repeat an earlier one in every cell.

    Parameters
    ----------
    few : frame
        From `likely_repeated`.
    table : TableDeclaration
        Its columns are compared.

    Returns
    -------
    frame
        Clashes of the rule ``repeated``: each row with the first of its kind.
    """
    import narwhals as nw

    left_out = (*PLACE, *(unread_name(name) for name in table.names))
    cells = [name for name in ("scheme", *table.names) if name not in left_out]
    alike = few.select(
        "at", *(nw.col(name).cast(nw.String).fill_null("").alias(f"cell {name}") for name in cells)
    )
    first = nw.col("at").min().over(*(f"cell {name}" for name in cells))
    told = alike.with_columns(first.alias("first"))
    return clash(told, REPEATED, nw.col("at") > nw.col("first"), nw.col("first"))

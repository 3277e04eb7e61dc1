"""The rows of an archive as text, as they would have been typed, so that a season's rules can read them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.archive.laid_out import GROUPS, PLACE

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from narwhals import Expr
    from narwhals.typing import LazyFrameT

    from audit.archive.laid_out import Stored

__all__ = ["as_typed"]


def as_typed(raw: LazyFrameT, stored: Mapping[str, Stored], fields: Sequence[str]) -> LazyFrameT:
    """Write cells as text.

    Parameters
    ----------
    raw : frame
        Columns of `PLACE` and those that are stored.
    stored : mapping of str to {'text', 'number', 'date'}
    fields : sequence of str
        Canonical columns in order; those that are not there are left out.

    Returns
    -------
    frame
        Columns of `PLACE`, and the texts; empty where nothing stands. Whole numbers have no point, days are
        as in 2019-05-31.
    """
    import narwhals as nw

    there = [name for name in fields if name in stored and name not in GROUPS]
    return raw.select(*(nw.col(name) for name in PLACE), *(_text(name, stored[name]) for name in there))


def _text(name: str, stored: Stored) -> Expr:
    import narwhals as nw

    cell = nw.col(name)
    if stored == "date":
        cell = cell.dt.to_string("%Y-%m-%d")
    elif stored == "number":
        cell = nw.when(~cell.is_nan()).then(cell).cast(nw.String).str.replace_all(r"\.0$", "")
    return cell.fill_null("").alias(name)

"""Which rows of an archive are judged: those that are looked at, and what goes along with each of them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from audit.archive.clashes import below
from audit.archive.day_orders import rows_beside, visits_beside
from audit.archive.surroundings import OF_TEAM, around_boxes, beside_boxes, of_all

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd
    from narwhals import LazyFrame

    from audit.archive.engine import Engine, Raw
    from audit.archive.season_files import Book
    from audit.archive.sieve import Sieved
    from audit.declarations import Declarations

__all__ = ["looked_at", "rows_near"]


def looked_at(sieved: Sieved) -> pd.Series:
    """Take ``at`` of all rows that the sieve found, sorted."""
    import pandas as pd

    parts = [sieved.rows["at"], sieved.clashes["at"], sieved.clashes["other"]]
    looked: pd.Series = pd.concat(parts).drop_duplicates().sort_values(ignore_index=True).astype("int64")
    return looked


def rows_near(
    engine: Engine,
    raw: Raw,
    marks: LazyFrame[Any],
    sieved: Sieved,
    declared: Declarations,
    books: Mapping[int, Book],
) -> LazyFrame[Any]:
    """Take the rows that were sieved, what is needed around them, and all rows of books.

    Parameters
    ----------
    engine, raw, marks
        Of which `sieved` tells.
    sieved : Sieved
    declared : Declarations
    books : mapping of int to Book
        As in `excerpts.Gathered`.

    Returns
    -------
    frame
        ``at``, ``season``, ``scheme``, ``team``, each row once.
    """
    import narwhals as nw

    number = {
        name: float(declared.settings[f"archive.engine.{name}"].value)
        for name in ("rows_of_a_box", "boxes_beside", "rows_beside", "pages_beside")
    }
    looked = looked_at(sieved)
    alone = looked[looked.isin(_met_elsewhere(engine, marks, sieved))]
    boxed = _with_beside(sieved.rows, looked[~looked.isin(alone)])
    near = around_boxes(
        marks,
        engine.table(_column(boxed), "boxed"),
        engine.table(_column(alone), "alone"),
        rows_of_box=number["rows_of_a_box"],
    )
    ordered = sieved.rows.loc[sieved.rows["reason"] == "order", "at"]
    if len(ordered):
        near = engine.keep(near, "around")
        some = engine.table(_column(ordered), "ordered")
        near = below([near, beside_boxes(marks, near, some, boxes=number["boxes_beside"])]).unique()
    dated = sieved.rows.loc[sieved.rows["reason"] == "days", "at"]
    if len(dated):
        beside = engine.table(rows_beside(dated, int(number["rows_beside"])), "beside_days")
        odd = engine.table(_column(dated), "odd_days")
        visits = visits_beside(marks, beside, odd, engine.keep, pages=int(number["pages_beside"]))
        near = below([near, visits]).unique()
    if books:
        of_books = nw.col("file").is_in([place for place, book in books.items() if book.one_season])
        rows = raw.rows.filter(of_books).select("at")
        near = below([near, of_all(marks.join(rows, on="at", how="semi"))]).unique()
    return near


def _met_elsewhere(engine: Engine, marks: LazyFrame[Any], sieved: Sieved) -> pd.Series:
    """Take the rows that stand only for a bird of which a row of another season, or team, tells otherwise.

    That row is asked which of the two is wrong, among its own siblings; were these ones unlike theirs, the
    sieve had found them for that.
    """
    import pandas as pd

    pairs = sieved.clashes[["at", "other"]]
    pairs = pairs[~pairs["other"].isin(sieved.rows["at"]) & ~pairs["other"].isin(pairs["at"])]
    rows = engine.table(_column(pd.concat([pairs["at"], pairs["other"]])), "in_pairs")
    told = engine.frame(marks.join(rows, on="at", how="semi").select("at", *OF_TEAM)).set_index("at")
    here, there = (told.loc[pairs[side]].reset_index(drop=True) for side in ("at", "other"))
    apart = (here != there).any(axis=1).to_numpy()
    # one that contradicts a row of its own season, too, is judged with its box
    other: pd.Series = pairs["other"]
    return other[apart & ~other.isin(other[~apart]).to_numpy()]


def _with_beside(rows: pd.DataFrame, looked: pd.Series) -> pd.Series:
    """Add the rows above and below those that may stand in another visit than they say."""
    import pandas as pd

    placed = rows.loc[rows["reason"] == "place", "at"]
    beside: pd.Series = pd.concat([looked, placed - 1, placed + 1])
    return beside


def _column(at: pd.Series) -> pd.DataFrame:
    """Make a frame of rows, each once."""
    import pandas as pd

    return pd.DataFrame({"at": at.drop_duplicates().sort_values(ignore_index=True).astype("int64")})

"""All excerpts of an archive, season by season: what was sieved, with what is needed to judge it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from audit.archive.as_typed import as_typed
from audit.archive.clashes import below
from audit.archive.excerpt import Excerpt
from audit.archive.surroundings import OF_TEAM, around_boxes, of_all, past_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    import pandas as pd
    from narwhals import LazyFrame

    from audit.archive.engine import Engine, Raw
    from audit.archive.season_files import Book
    from audit.archive.sieve import Sieved
    from audit.declarations import Declarations

__all__ = ["Gathered", "gather"]


@dataclass(frozen=True, slots=True)
class Gathered:
    """What is judged of an archive.

    Attributes
    ----------
    whole : bool
        Each team's season stands as a whole; else only the surroundings of what was sieved, and books.
    many : int
        Rows that are judged.
    books : mapping of int to Book
        Number of a part of the archive -> the season with all its tables that it is of.
    """

    engine: Engine
    near: LazyFrame[Any]
    texts: LazyFrame[Any]
    sieved: Sieved
    looked: frozenset[int]
    kin: pd.DataFrame
    names: Sequence[str]
    whole: bool
    many: int
    books: Mapping[int, Book] = field(default_factory=dict)

    def seasons(self) -> list[str]:
        """List the seasons in which anything was sieved."""
        found = self.engine.frame(self.near.select("season").unique())["season"]
        return sorted(str(season) for season in found)

    def of_season(self, season: str) -> Iterator[Excerpt]:
        """Give the excerpts of one season by scheme and team."""
        import narwhals as nw

        near = self.near.filter(nw.col("season") == season)
        told = self.engine.frame(near.join(self.texts, on="at", how="inner")).sort_values("at")
        books = [self.books.get(int(number)) for number in told["file"]]
        told = told.assign(file=_named(told["file"], self.names))
        told["book"] = [str(book.path) if book is not None and book.one_season else "" for book in books]
        by_path = {str(book.path): book for book in books if book is not None}
        at_season = dict(zip(self.kin["at"], self.kin["season"], strict=True))
        clashes = self._clashes()
        for (scheme, team, path), rows in told.groupby(["scheme", "team", "book"], sort=True):
            here = rows.drop(columns=[*OF_TEAM, "book"]).reset_index(drop=True)
            places = here["at"].tolist()
            own = tuple(clash for at in places for clash in clashes.get(at, ()))
            kin = self._kin_of(here, own)
            earlier = kin[[at_season[at] < season for at in kin["at"]]] if len(kin) else kin
            yield Excerpt(
                season=season,
                scheme=str(scheme),
                team=str(team),
                rows=here,
                past=earlier.reset_index(drop=True),
                looked=tuple(at for at in places if at in self.looked),
                clashes=own,
                kin=kin,
                whole=self.whole or bool(path),
                book=by_path.get(str(path)),
            )

    def _clashes(self) -> dict[int, list[tuple[str, int, int]]]:
        found: dict[int, list[tuple[str, int, int]]] = {}
        pairs = self.sieved.clashes
        for rule, at, other in zip(pairs["rule"], pairs["at"], pairs["other"], strict=True):
            found.setdefault(int(at), []).append((str(rule), int(at), int(other)))
        return found

    def _kin_of(self, here: pd.DataFrame, clashes: Sequence[tuple[str, int, int]]) -> pd.DataFrame:
        """Rows elsewhere with the rings and tags of rows that contradict others."""
        kin = self.kin.drop(columns=["season", "ring_key", "tag_key"])
        if not clashes:
            return kin.iloc[:0]
        rows = {at for _, one, other in clashes for at in (one, other)}
        mine = self.kin[self.kin["at"].isin(rows)]
        same = self.kin["ring_key"].isin(_known(mine["ring_key"])) | self.kin["tag_key"].isin(
            _known(mine["tag_key"])
        )
        there = same & ~self.kin["at"].isin(here["at"])
        return kin[there].reset_index(drop=True)


def gather(
    engine: Engine,
    raw: Raw,
    marks: LazyFrame[Any],
    sieved: Sieved,
    declared: Declarations,
    names: Sequence[str],
    books: Mapping[int, Book] | None = None,
    *,
    whole: bool | None = None,
) -> Gathered:
    """Find what is needed to judge what was sieved.

    Parameters
    ----------
    engine, raw, marks
        Of which `sieved` tells.
    sieved : Sieved
    declared : Declarations
    names : sequence of str
        Names of the files, by number.
    books : mapping of int to Book, optional
        As in `Gathered`.
    whole : bool, optional
        Judge each team's season as a whole; by default where the archive is not too large for it.
    """
    import narwhals as nw
    import pandas as pd

    number = {
        name: declared.settings[f"archive.engine.{name}"].value for name in ("rows_whole", "rows_of_a_box")
    }
    whole = bool(sieved.handlings["many"].sum() <= number["rows_whole"]) if whole is None else whole
    clashing = pd.concat([sieved.clashes["at"], sieved.clashes["other"]]).drop_duplicates()
    looked = pd.concat([sieved.rows["at"], clashing]).drop_duplicates().sort_values()
    wanted = engine.table(pd.DataFrame({"at": looked.astype("int64")}), "looked")
    there = engine.table(pd.DataFrame({"at": clashing.astype("int64")}), "clashing")
    near = of_all(marks) if whole else around_boxes(marks, wanted, rows_of_box=float(number["rows_of_a_box"]))
    if books and not whole:
        of_books = nw.col("file").is_in([place for place, book in books.items() if book.one_season])
        rows = raw.rows.filter(of_books).select("at")
        near = below([near, of_all(marks.join(rows, on="at", how="semi"))]).unique()
    near = engine.keep(near, "near")
    past = engine.keep(past_of(marks, there), "past")
    places = below([near.select("at"), past.select("at")]).unique()
    fields = declared.tables["handlings"].names
    texts = engine.keep(
        as_typed(raw.rows, raw.stored, fields).join(places, on="at", how="semi"), "texts_near"
    )
    kin = engine.frame(
        past.select("at", "season", nw.col("ring").alias("ring_key"), nw.col("tag").alias("tag_key")).join(
            texts, on="at", how="inner"
        )
    ).sort_values("at", ignore_index=True)
    kin = kin.assign(file=_named(kin["file"], names))
    many = int(engine.frame(near.select(nw.len().alias("many")))["many"].iloc[0])
    return Gathered(
        engine,
        near,
        texts,
        sieved,
        frozenset(looked.tolist()),
        kin,
        names,
        whole=whole,
        many=many,
        books=books or {},
    )


def _named(files: pd.Series, names: Sequence[str]) -> pd.Series:
    return files.map(dict(enumerate(names))).astype("str")


def _known(keys: pd.Series) -> pd.Series:
    return keys.dropna().drop_duplicates()

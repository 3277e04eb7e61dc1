"""All excerpts of an archive, season by season: what was sieved, with what is needed to judge it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from audit.archive.as_typed import as_typed
from audit.archive.clashes import below
from audit.archive.excerpt import Excerpt
from audit.archive.kin import Kin
from audit.archive.near_rings import near_in_archive, near_rings
from audit.archive.near_rows import looked_at, rows_near
from audit.archive.season_tables import SeasonTables
from audit.archive.surroundings import OF_TEAM, of_all, past_of

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator, Mapping, Sequence

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
    near_rings : mapping of str to tuple of str
        Ring that may be a slip -> rings of the archive that are one slip away from it.
    near_asked : bool
        Whether it was asked which these are.
    tables : SeasonTables
        Tables beside the handlings, where whole seasons are judged.
    """

    engine: Engine
    near: LazyFrame[Any]
    texts: LazyFrame[Any]
    looked: frozenset[int]
    clashes: Mapping[int, Sequence[tuple[str, int, int]]]
    kin: Kin
    names: Sequence[str]
    whole: bool
    many: int
    books: Mapping[int, Book] = field(default_factory=dict)
    near_rings: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    near_asked: bool = True
    tables: SeasonTables = field(default_factory=SeasonTables)

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
        for (scheme, team, path), rows in told.groupby(["scheme", "team", "book"], sort=True):
            here = rows.drop(columns=[*OF_TEAM, "book"]).reset_index(drop=True)
            places = here["at"].tolist()
            own = tuple(clash for at in places for clash in self.clashes.get(at, ()))
            kin = self._kin_of(places, own)
            past = self._past_of(places, season)
            yield Excerpt(
                season=season,
                scheme=str(scheme),
                team=str(team),
                rows=here,
                past=past,
                looked=tuple(at for at in places if at in self.looked),
                clashes=own,
                kin=kin,
                whole=self.whole or bool(path),
                book=by_path.get(str(path)),
                tables={} if str(path) else self.tables.of_season(season, str(scheme), str(team)),
            )

    def _kin_of(self, here: Collection[int], clashes: Sequence[tuple[str, int, int]]) -> pd.DataFrame:
        """Rows elsewhere with the rings and tags of rows that contradict others."""
        return self.kin.alike({at for _, one, other in clashes for at in (one, other)}, without=here)

    def _past_of(self, here: Collection[int], season: str) -> pd.DataFrame:
        """Rows of earlier seasons that tell of birds met here, or of birds that may have been meant."""
        near = {one for ring in self.kin.rings_of(here) for one in self.near_rings.get(ring, ())}
        return self.kin.alike(here, near, before=season)


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
    tables: Callable[[], SeasonTables] = SeasonTables,
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
    tables : callable
        Reads the tables beside the handlings, which whole seasons are judged by.
    """
    import narwhals as nw
    import pandas as pd

    most = declared.settings["archive.engine.rows_whole"].value
    whole = bool(sieved.handlings["many"].sum() <= most) if whole is None else whole
    clashing = pd.concat([sieved.clashes["at"], sieved.clashes["other"]]).drop_duplicates()
    there = engine.table(pd.DataFrame({"at": clashing.astype("int64")}), "clashing")
    near = of_all(marks) if whole else rows_near(engine, raw, marks, sieved, declared, books or {})
    near = engine.keep(near, "near")
    most = int(declared.settings["archive.identity.near_rings"].value)
    asked = _slips(engine, marks, there, most, whole=whole)
    slips = asked or {}
    kindred = set(slips) | {ring for rings in slips.values() for ring in rings}
    given = engine.table(pd.DataFrame({"ring": sorted(kindred)}, dtype="str"), "kindred")
    # an excerpt is judged with the past of all its birds, or a rule knows of too few that it is known
    past = engine.keep(past_of(marks, there if whole else near.select("at"), given, whole=whole), "past")
    places = below([near.select("at"), past.select("at")]).unique()
    fields = declared.tables["handlings"].names
    # the few rows first, else all of them are written as text
    texts = engine.keep(
        as_typed(raw.rows.join(places, on="at", how="semi"), raw.stored, fields), "texts_near"
    )
    keys = past.select(
        "at", "season", "scheme", nw.col("ring").alias("ring_key"), nw.col("tag").alias("tag_key")
    )
    kin = engine.frame(keys.join(texts, on="at", how="inner")).sort_values("at", ignore_index=True)
    kin = kin.assign(file=_named(kin["file"], names))
    many = int(engine.frame(near.select(nw.len().alias("many")))["many"].iloc[0])
    return Gathered(
        engine,
        near,
        texts,
        frozenset(looked_at(sieved).tolist()),
        _by_row(sieved.clashes),
        Kin(kin),
        names,
        whole=whole,
        many=many,
        books=books or {},
        near_rings=slips,
        near_asked=asked is not None,
        tables=tables() if whole else SeasonTables(),
    )


def _by_row(pairs: pd.DataFrame) -> dict[int, list[tuple[str, int, int]]]:
    """Tell of each row whom it contradicts, and by which rule."""
    found: dict[int, list[tuple[str, int, int]]] = {}
    for rule, at, other in zip(pairs["rule"], pairs["at"], pairs["other"], strict=True):
        found.setdefault(int(at), []).append((str(rule), int(at), int(other)))
    return found


def _slips(
    engine: Engine, marks: LazyFrame[Any], clashing: LazyFrame[Any], most: int, *, whole: bool
) -> dict[str, tuple[str, ...]] | None:
    """Tell which rings of the archive may be meant by those that are in doubt.

    In doubt are the rings of rows that contradict others and, where seasons are judged as a whole, of all
    birds that were met again. Of a larger archive no more than `most` are asked about: None where there
    are more.
    """
    import narwhals as nw

    ring = nw.col("ring")
    some = marks.join(clashing, on="at", how="semi")
    if not whole:
        asked = engine.frame(some.filter(~ring.is_null()).select("ring").unique())["ring"]
        return near_in_archive(engine, marks, {str(one) for one in asked}) if len(asked) <= most else None
    some = below([some.select("ring"), marks.filter(nw.col("event") != "ringed").select("ring")])
    known = engine.frame(marks.filter(~ring.is_null()).select("ring").unique())["ring"]
    asked = engine.frame(some.filter(~ring.is_null()).unique())["ring"]
    return near_rings({str(one) for one in asked}, {str(one) for one in known})


def _named(files: pd.Series, names: Sequence[str]) -> pd.Series:
    return files.map(dict(enumerate(names))).astype("str")

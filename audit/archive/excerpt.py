"""A piece of an archive as a season that its rules can be asked about: each row keeps its file and number."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from audit.archive.decided_books import NOTHING_SAID, said_beside
from audit.archive.season_files import digest_of
from audit.intake import read
from audit.refusal import Refusal
from audit.season import row_label, split_label

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd

    from audit.archive.season_files import Book
    from audit.declarations import Declarations
    from audit.handover.gate.said import Said
    from audit.season import Season, Table

__all__ = ["Changed", "Excerpt", "read_excerpt"]

#: In a sheet the names of the columns stand first.
_FIRST_ROW = 2
#: Sheet of rows that are given to a book as witnesses.
_GIVEN = "earlier season, handlings"
#: Behind the name of a file whose rows are witnesses of earlier seasons.
EARLIER = " (earlier)"


@dataclass(frozen=True, slots=True)
class Excerpt:
    """Rows of one team in one season, with those of other seasons that speak of the same birds.

    Attributes
    ----------
    season, scheme, team : str
    rows, past : pandas.DataFrame
        ``at``, ``file`` (its name), ``row`` and the canonical columns as text; `past` are rows of earlier
        seasons.
    looked : tuple of int
        Numbers of the rows that the sieve found.
    clashes : tuple of (str, int, int)
        Rule, row and the other row of each contradiction that is told of here.
    kin : pandas.DataFrame
        As `rows`: rows of other teams and seasons with the rings and tags of `clashes`.
    whole : bool
        `rows` are all that the team handled in the season, so that every rule can be asked.
    book : Book or None
        The season with all its tables, where it is a book: it is read again, as `check` reads it.
    tables : mapping of str to pandas.DataFrame
        Other tables of a whole season, as `rows`, where they stand beside the handlings of the archive.
    """

    season: str
    scheme: str
    team: str
    rows: pd.DataFrame
    past: pd.DataFrame
    looked: tuple[int, ...]
    clashes: tuple[tuple[str, int, int], ...]
    kin: pd.DataFrame
    whole: bool = False
    book: Book | None = None
    tables: Mapping[str, pd.DataFrame] = field(default_factory=dict)

    @property
    def digest(self) -> str:
        """Checksum of all that is judged."""
        made = hashlib.blake2b(digest_size=16)
        for frame in (self.rows, self.past, self.kin, *self.tables.values()):
            made.update("\x1f".join(frame.columns).encode())
            for name in frame.columns:
                made.update("\x1f".join(map(str, frame[name].tolist())).encode())
        made.update(repr((self.season, self.scheme, self.team, self.looked, self.clashes)).encode())
        made.update(repr(list(self.tables)).encode())
        made.update(repr((self.whole, self.book and (self.book.name, self.book.digest))).encode())
        return made.hexdigest()


def read_excerpt(excerpt: Excerpt, declared: Declarations) -> tuple[Season, Said]:
    """Read an excerpt as a season is read, and give each row its file as sheet, and its own number.

    Returns
    -------
    Season
        A book with all that was decided about it.
    Said
        What was decided about the cells of a book, by its own labels.

    Raises
    ------
    Refusal
        It cannot be read, or a book was changed since the archive was opened.
    """
    fields = [name for name in excerpt.rows.columns if name not in ("at", "file", "row")]
    past = [{"handlings": excerpt.past[fields]}] if len(excerpt.past) else []
    said = NOTHING_SAID
    if excerpt.book is not None:
        season = read(excerpt.book.path, declared, earlier=past)
        if digest_of(season.files, excerpt.book.path) != excerpt.book.digest:
            raise Changed(
                "This file was changed while it was audited.",
                where=str(excerpt.book.path),
                cure="Wait until it is whole, and start again: what does not depend on it stands.",
            )
        season, said = said_beside(season, excerpt.book.path, declared)
        given = [("earlier", excerpt.past, EARLIER, _GIVEN)]
    else:
        beside = {name: rows.drop(columns=["file", "row"]) for name, rows in excerpt.tables.items()}
        season = read({"handlings": excerpt.rows[fields], **beside}, declared, earlier=past)
        given = [("handlings", excerpt.rows, "", ""), ("earlier", excerpt.past, EARLIER, "")]
        given += [(name, rows, "", "") for name, rows in excerpt.tables.items()]
    tables = dict(season.tables)
    whole: dict[str, str] = {}
    for name, rows, behind, sheet in given:
        if name in tables and len(rows):
            labels = _labels(tables[name], rows, behind, sheet)
            whole |= dict(zip(tables[name].frame.index, labels, strict=True))
            tables[name] = _renamed(tables[name], labels)
    readings = tuple(replace(one, label=whole.get(one.label, one.label)) for one in season.readings)
    return replace(season, name=excerpt.season, tables=tables, readings=readings), said


class Changed(Refusal):
    """A file that was changed between two readings."""


def _labels(table: Table, rows: pd.DataFrame, behind: str, sheet: str) -> list[str]:
    """Give each row its file and number; the reader may have left some out, and some may be of the book."""
    files, numbers = rows["file"].tolist(), rows["row"].tolist()
    labels = []
    for label in table.frame.index:
        stands, row = split_label(label)
        place = row - _FIRST_ROW
        given = not sheet or stands == sheet
        labels.append(row_label(f"{files[place]}{behind}", int(numbers[place])) if given else str(label))
    return labels


def _renamed(table: Table, labels: Sequence[str]) -> Table:
    import pandas as pd

    index = pd.Index(list(labels), dtype="str")
    sheets = dict.fromkeys(label.rpartition("!")[0] for label in labels)
    columns = dict(table.columns) | {
        (sheet, field): replace(column, written=None)
        for sheet in sheets
        for (_, field), column in table.columns.items()
    }
    return replace(
        table, frame=table.frame.set_axis(index), typed=table.typed.set_axis(index), columns=columns
    )

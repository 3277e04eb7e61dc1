"""A piece of an archive as a season that its rules can be asked about: each row keeps its file and number."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from audit.intake import read
from audit.season import row_label, split_label

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

    from audit.declarations import Declarations
    from audit.season import Season, Table

__all__ = ["Excerpt", "season_of"]

#: In a sheet the names of the columns stand first.
_FIRST_ROW = 2
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
    """

    season: str
    scheme: str
    team: str
    rows: pd.DataFrame
    past: pd.DataFrame
    looked: tuple[int, ...]
    clashes: tuple[tuple[str, int, int], ...]
    kin: pd.DataFrame

    @property
    def digest(self) -> str:
        """Checksum of all that is judged."""
        made = hashlib.blake2b(digest_size=16)
        for frame in (self.rows, self.past, self.kin):
            made.update("\x1f".join(frame.columns).encode())
            for name in frame.columns:
                made.update("\x1f".join(frame[name].astype("str")).encode())
        made.update(repr((self.season, self.scheme, self.team, self.looked, self.clashes)).encode())
        return made.hexdigest()


def season_of(excerpt: Excerpt, declared: Declarations) -> Season:
    """Read an excerpt as a season is read, and give each row its file as sheet, and its own number."""
    fields = [name for name in excerpt.rows.columns if name not in ("at", "file", "row")]
    past = [{"handlings": excerpt.past[fields]}] if len(excerpt.past) else []
    season = read({"handlings": excerpt.rows[fields]}, declared, earlier=past)
    tables = dict(season.tables)
    whole: dict[str, str] = {}
    for name, rows, behind in (("handlings", excerpt.rows, ""), ("earlier", excerpt.past, EARLIER)):
        if name in tables:
            labels = _labels(tables[name], rows, behind)
            whole |= dict(zip(tables[name].frame.index, labels, strict=True))
            tables[name] = _renamed(tables[name], labels)
    readings = tuple(replace(reading, label=whole[reading.label]) for reading in season.readings)
    return replace(season, name=excerpt.season, tables=tables, readings=readings)


def _labels(table: Table, rows: pd.DataFrame, behind: str) -> list[str]:
    """Give each row of a table its file and number; the reader may have left some out."""
    stands = [split_label(label)[1] - _FIRST_ROW for label in table.frame.index]
    files, numbers = rows["file"].tolist(), rows["row"].tolist()
    return [row_label(f"{files[place]}{behind}", int(numbers[place])) for place in stands]


def _renamed(table: Table, labels: Sequence[str]) -> Table:
    index = table.frame.index.map(dict(zip(table.frame.index, labels, strict=True)))
    sheets = dict.fromkeys(label.rpartition("!")[0] for label in labels)
    columns = {
        (sheet, field): replace(column, written=None)
        for sheet in sheets
        for (_, field), column in table.columns.items()
    }
    return replace(
        table, frame=table.frame.set_axis(index), typed=table.typed.set_axis(index), columns=columns
    )

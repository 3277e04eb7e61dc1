"""What a rule sees of a season, as a checksum: two seasons with the same one get the same answer."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from functools import cached_property
from typing import TYPE_CHECKING

from audit.rules.rule import EVERYTHING

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping

    import pandas as pd

    from audit.season import Season, Table

__all__ = ["Content"]


class Content:
    """Checksums of a season by column, of all that a rule may depend on.

    Parameters
    ----------
    season : Season
        What was read.

    References
    ----------
    BLAKE2: RFC 7693, as the standard library has it.
    """

    def __init__(self, season: Season) -> None:
        self._season = season
        self._columns: dict[tuple[str, str], str] = {}

    def seen(
        self, heeds: Mapping[str, Collection[str]], doubted: Iterable[tuple[str, str]], *further: object
    ) -> str:
        """Take the checksum of some columns with the rows and sheets around them.

        Parameters
        ----------
        heeds : mapping of str to collection of str
            Columns by table, or `EVERYTHING`.
        doubted : iterable of (label, field)
            Cells in doubt; those in other columns are passed over.
        *further
            What else it depends on, as plain values whose text says all.
        """
        season = self._season
        if heeds is EVERYTHING:
            columns = [(name, field) for name, table in season.tables.items() for field in _fields(table)]
            seen = set(doubted)
            further = (*further, self._whole)
        else:
            columns = [(name, field) for name, fields in heeds.items() for field in fields]
            seen = {cell for cell in doubted if cell[1] in heeds.get(season.table_of(cell[0]), ())}
        told = [self._of_column(*column) for column in sorted(columns)]
        return _checksum(repr((self._shape, told, sorted(seen), further)))

    @cached_property
    def _shape(self) -> str:
        """Checksum of all but the cells: tables, rows, columns, and where they stand."""
        return _checksum(
            repr(
                [
                    (
                        name,
                        table.typed.index.tolist(),
                        table.frame.columns.tolist(),
                        table.typed.columns.tolist(),
                        [(*key, place.header, place.letter) for key, place in table.columns.items()],
                    )
                    for name, table in self._season.tables.items()
                ]
            )
        )

    @cached_property
    def _whole(self) -> str:
        season = self._season
        return _checksum(repr((season.name, season.source, season.notices, season.readings)))

    @cached_property
    def _readings(self) -> Mapping[tuple[str, str], list[str]]:
        found: dict[tuple[str, str], list[str]] = defaultdict(list)
        for reading in self._season.readings:
            found[self._season.table_of(reading.label), reading.field].append(repr(reading))
        return found

    def _of_column(self, name: str, field: str) -> str:
        if (name, field) not in self._columns:
            table = self._season.tables.get(name)
            told = [name, field, *self._readings.get((name, field), ())]
            if table is not None:
                for frame in (table.typed, table.frame):
                    told += _values(frame[field]) if field in frame.columns else ["no column"]
            self._columns[name, field] = _checksum(repr(told))
        return self._columns[name, field]


def _fields(table: Table) -> list[str]:
    return list(dict.fromkeys([*table.frame.columns, *table.typed.columns]))


def _values(column: pd.Series) -> list[str]:
    """Kind and values of a column, as texts that differ where these do."""
    if column.dtype.kind == "M":
        return [str(column.dtype), column.to_numpy().tobytes().hex()]
    return [str(column.dtype), repr(column.tolist())]


def _checksum(text: str) -> str:
    return hashlib.blake2s(text.encode("utf-8", "surrogatepass")).hexdigest()

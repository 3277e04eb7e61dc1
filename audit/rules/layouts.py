"""What rules lay out of a season: once for all rules that see the same cells in doubt."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Hashable, Iterable, Mapping

    from audit.rules.heeded import Columns

    Cells = frozenset[tuple[str, str]]

__all__ = ["Layouts"]

#: So many layouts are kept from one round to the next; one round makes a hundred or two.
_MOST = 300


class Layouts:
    """A memory of what was laid out; nothing in it is ever changed.

    Examples
    --------
    >>> layouts, rings = Layouts(), {"handlings": ("ring",)}
    >>> [layouts.get("rings", lambda text=text: text, rings) for text in ("first", "second")]
    ['first', 'first']
    >>> layouts.without({("handlings", "ring")}).get("rings", lambda: "again", rings)
    'again'
    """

    def __init__(self) -> None:
        self._made: dict[Hashable, tuple[Any, Columns]] = {}
        self._heeded: dict[tuple[str, tuple[str, ...]], Columns] = {}
        self._parts: dict[Cells, Mapping[tuple[str, str], Cells]] = {}
        self._same: dict[Cells, Cells] = {}

    def get(self, key: Hashable, make: Callable[[], Any], heeds: Columns) -> Any:  # noqa: ANN401 - anything
        """Return what was made under a key, or make it.

        Parameters
        ----------
        heeds : mapping of str to tuple of str
            Columns, by table, on which it depends.
        """
        if key not in self._made:
            self._made[key] = make(), heeds
        return self._made[key][0]

    def all_of(self, table: str, fields: Iterable[str]) -> Columns:
        """Return all columns of a table: the same object each time."""
        names = tuple(str(name) for name in fields)
        return self._heeded.setdefault((table, names), {table: names})

    def seen_in_doubt(
        self, doubted: Cells, heeds: Columns, table_of: Callable[[str], str]
    ) -> frozenset[Cells]:
        """Return the cells in doubt that stand in some columns, those of each column together.

        Parameters
        ----------
        doubted : frozenset of (label, field)
            All cells in doubt.
        heeds : mapping of str to tuple of str
            Columns, by table.
        table_of : callable
            Finds the table of a row.
        """
        parts = self.in_doubt(doubted, table_of)
        return frozenset(
            parts[column]
            for column in ((table, name) for table, names in heeds.items() for name in names)
            if column in parts
        )

    def in_doubt(self, doubted: Cells, table_of: Callable[[str], str]) -> Mapping[tuple[str, str], Cells]:
        """Return the cells in doubt by table and column; arguments as of `seen_in_doubt`."""
        parts = self._parts.get(doubted)
        if parts is None:
            parts = self._parts[doubted] = self._by_column(doubted, table_of)
        return parts

    def _by_column(self, doubted: Cells, table_of: Callable[[str], str]) -> Mapping[tuple[str, str], Cells]:
        """Part cells by their columns; the same cells are the same object, so that they are told at once."""
        found: dict[tuple[str, str], list[tuple[str, str]]] = defaultdict(list)
        for cell in doubted:
            found[table_of(cell[0]), cell[1]].append(cell)
        parts = {column: frozenset(cells) for column, cells in found.items()}
        return {column: self._same.setdefault(cells, cells) for column, cells in parts.items()}

    def without(self, edited: Collection[tuple[str, str]]) -> Layouts:
        """Return the memory of a season in which some columns, given as (table, column), were edited."""
        kept = Layouts()
        stays = [
            (key, (made, heeds))
            # a copy, since another thread may be laying out more meanwhile
            for key, (made, heeds) in tuple(self._made.items())
            if not any(field in heeds.get(table, ()) for table, field in edited)
        ]
        kept._made = dict(stays[-_MOST:])
        return kept

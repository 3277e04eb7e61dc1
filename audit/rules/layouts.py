"""What rules lay out of a season: once for all rules that see the same cells in doubt."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Hashable

    from audit.rules.heeded import Columns

__all__ = ["Layouts"]

#: So many layouts are kept from one round to the next; one round makes about thirty.
_MOST = 100


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

    def without(self, edited: Collection[tuple[str, str]]) -> Layouts:
        """Return the memory of a season in which some columns, given as (table, column), were edited."""
        kept = Layouts()
        stays = [
            (key, (made, heeds))
            for key, (made, heeds) in self._made.items()
            if not any(field in heeds.get(table, ()) for table, field in edited)
        ]
        kept._made = dict(stays[-_MOST:])
        return kept

"""Which of two rows of one ring has a wrong species, or ring: what the birds beside them say."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    #: A row of an excerpt: canonical column -> text.
    Row = Mapping[str, str]

__all__ = ["Told", "beside", "told_species"]

_RINGED = "ringed"


class Told(NamedTuple):
    """What the birds of two visits say of two rows that tell two species of one ring.

    Attributes
    ----------
    row : mapping of str to str
        The row to blame.
    field : str
        Its wrong cell: ``species`` or ``ring``.
    meant : str
        What was meant there; empty where that is not known.
    why : str
        A clause for the sentence.
    """

    row: Row
    field: str
    meant: str
    why: str


def beside(row: Row, rows: Iterable[Row]) -> list[Row]:
    """Take the rows of the same box and day, without the row itself; none where either is missing."""
    place = (row.get("box", ""), row.get("date", ""))
    if not all(place):
        return []
    return [
        one for one in rows if one["at"] != row["at"] and (one.get("box", ""), one.get("date", "")) == place
    ]


def told_species(row: Row, other: Row, here: Sequence[Row], there: Sequence[Row]) -> Told | None:
    """Say which cell of two rows with one ring and two species is wrong, where the birds beside them tell.

    Parameters
    ----------
    row, other : mapping of str to str
        The later row, and the one that it contradicts.
    here, there : sequence of mapping
        The other rows of their visits, as far as they are known.

    Returns
    -------
    Told or None
        None where nothing tells.

    Notes
    -----
    Young of one box are of one species, and its parents too. A bird whose species is that of all birds beside
    it, and that is said to be met again, has the ring of another one.
    """
    same_tag = bool(row.get("tag")) and row.get("tag") == other.get("tag")
    now, then = _plain(row), _plain(other)
    of_here, of_there = ({_plain(one) for one in rows} - {""} for rows in (here, there))
    if of_here == {then}:
        return Told(row, "species", other.get("species", ""), "like all birds beside this one")
    if of_there == {now}:
        return Told(other, "species", row.get("species", ""), "unlike all birds beside that one")
    if of_here == {now} and not same_tag and row.get("event") != _RINGED:
        why = "and the birds beside this one are of its species: it probably bears another ring"
        return Told(row, "ring", "", why)
    return None


def _plain(row: Row) -> str:
    return row.get("species", "").strip().casefold()

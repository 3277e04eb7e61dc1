"""Which differences one slip explains: texts exchanged or slid, a sum carried on."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

__all__ = ["TELLING", "Differing", "groups_of"]

#: Columns whose values seldom repeat from row to row: a text met in another row came from there.
TELLING = ("ring", "tag", "gross_g", "bag_g", "net_g", "wing_mm", "time", "age_days")
_MASSES = ("gross_g", "bag_g", "net_g")
#: Two sums are the same when they agree so closely, g.
_ROUNDING = 1e-6


@dataclass(frozen=True, slots=True)
class Differing:
    """One cell that means different things in both typings.

    Attributes
    ----------
    row : int
        Number of the row in the first typing, from 0.
    other_row : int
        Number of the row in the second.
    column : int
        Number among the compared columns.
    field : str
        Canonical column.
    first, second : str
        Meanings; empty for an empty cell.
    """

    row: int
    other_row: int
    column: int
    field: str
    first: str
    second: str


def groups_of(differing: Sequence[Differing], slid_rows: int) -> list[int]:
    """Give each slip a number: differences with the same number are explained by one.

    Two belong together where each has the text that the other has in the other typing (exchanged); where they
    stand near each other in one column, and the text of the one stands, in the other typing, in the cell of
    the other (slid); and where two masses of a row are off by the same, so that the sum comes out in both
    typings.

    Parameters
    ----------
    slid_rows : int
        Rows within which a text may have slid.

    Returns
    -------
    list of int
        One for each difference, in order; the number of the first difference of the slip.
    """
    leader = list(range(len(differing)))

    def find(k: int) -> int:
        while leader[k] != k:
            leader[k] = leader[leader[k]]
            k = leader[k]
        return k

    for one, other in _partners(differing, slid_rows):
        first, second = sorted((find(one), find(other)))
        leader[second] = first
    return [find(k) for k in range(len(differing))]


def _partners(differing: Sequence[Differing], slid_rows: int) -> Iterator[tuple[int, int]]:
    by_row: dict[int, list[int]] = defaultdict(list)
    by_column: dict[str, list[int]] = defaultdict(list)
    for k, one in enumerate(differing):
        by_row[one.row].append(k)
        if one.field in TELLING:
            by_column[one.field].append(k)
    for row in by_row.values():
        for at, k in enumerate(row):
            for m in row[at + 1 :]:
                if _exchanged(differing[k], differing[m]) or _carried(differing[k], differing[m]):
                    yield k, m
    for column in by_column.values():
        ordered = sorted(column, key=lambda k: differing[k].row)
        for at, k in enumerate(ordered):
            for m in ordered[at + 1 :]:
                if differing[m].row - differing[k].row > slid_rows:
                    break
                if _slid(differing[k], differing[m]):
                    yield k, m


def _exchanged(one: Differing, other: Differing) -> bool:
    return bool(one.first and one.second) and one.first == other.second and one.second == other.first


def _slid(one: Differing, other: Differing) -> bool:
    return (one.first != "" and one.first == other.second) or (one.second != "" and one.second == other.first)


def _carried(one: Differing, other: Differing) -> bool:
    if one.field not in _MASSES or other.field not in _MASSES:
        return False
    try:
        apart = [float(cell.first) - float(cell.second) for cell in (one, other)]
    except ValueError:
        return False
    return abs(abs(apart[0]) - abs(apart[1])) < _ROUNDING

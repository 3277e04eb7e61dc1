"""Two broods of one day, each under the box of the other: told by birds on other days, and by times."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.ring_number import bare
from audit.rules.boxed.visit_table import NESTLING, visit_table, young_in
from audit.rules.columns import minutes_of_rows

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from audit.rules.boxed.visit_table import VisitTable
    from audit.rules.case import Case
    from audit.rules.ring_rows import Ringings
    from audit.rules.sheet_order import Block

    Floats = NDArray[np.float64]

__all__ = ["Exchange", "exchanged_broods"]


@dataclass(frozen=True, slots=True)
class Exchange:
    """Two broods of one day, each under the box of the other.

    Attributes
    ----------
    first, second : tuple of int
        Rows under the one box, and under the other.
    boxes : (str, str)
        Labels as typed.
    day : int
        Days since 1970.
    p : float
        Probability that it was at this visit.
    """

    first: tuple[int, ...]
    second: tuple[int, ...]
    boxes: tuple[str, str]
    day: int
    p: float


@dataclass(frozen=True, slots=True)
class _Pair:
    """Two visits of one day that may be exchanged; the other days that say so, and whether times do."""

    one: Block
    other: Block
    day: int
    days: frozenset[int]
    by_time: bool


@dataclass(frozen=True, slots=True)
class _Homes:
    """Where the young of a visit are on other days: boxes by birds, those days, and how many birds tell."""

    boxes: Counter[str]
    days: frozenset[int]
    told: int


def exchanged_broods(
    case: Case, blocks: list[Block], rings: Ringings, blamed: set[int]
) -> Iterator[tuple[Exchange, ...]]:
    """Find pairs of visits of one day whose young are in each other's box on other days.

    Where two visits of the same boxes contradict each other, both are given together.
    """
    table = visit_table(case, blocks)
    minutes = minutes_of_rows(case)
    by_day: dict[int, list[Block]] = defaultdict(list)
    parts = Counter((block.box, block.day) for block in blocks)
    for block in blocks:
        if parts[block.box, block.day] == 1 and blamed.isdisjoint(block.rows):
            by_day[block.day].append(block)
    pairs: dict[frozenset[str], list[_Pair]] = defaultdict(list)
    for day, here in sorted(by_day.items()):
        homes = {block.box: _homes(block, rings) for block in here}
        for one, other in _worth_asking(case, here, homes, table, minutes):
            days = _crossed(case, one, other, homes)
            by_time = _told_by_time(case, (one, other), table, minutes, rings)
            if (days or by_time > 0) and by_time >= 0 and _no_home(one, other, homes, days):
                pair = _Pair(one, other, day, days, by_time > 0)
                pairs[frozenset((one.box, other.box))].append(pair)
    for several in pairs.values():
        # the same two boxes at another visit of both: unless times tell, either may be the one
        left = [pair for pair in several if pair.by_time] or [*several, *_twin(several, by_day)]
        # times may also be crossed in the table of visits
        only_times = left[0].by_time and not left[0].days
        p = case.limit("page_by_time") if only_times else case.limit("p_most") / len(left)
        yield tuple(
            Exchange(pair.one.rows, pair.other.rows, (pair.one.box, pair.other.box), pair.day, float(p))
            for pair in left
        )


def _twin(several: Sequence[_Pair], by_day: Mapping[int, Sequence[Block]]) -> Iterator[_Pair]:
    """Take the visits of the one other day that tells, where both boxes were visited on it, for as likely.

    They are not found of themselves where rings in them are wrong, too.
    """
    if len(several) == 1 and len(several[0].days) == 1:
        (pair,) = several
        (day,) = pair.days
        there = {block.box: block for block in by_day.get(day, ())}
        if pair.one.box in there and pair.other.box in there:
            yield _Pair(there[pair.one.box], there[pair.other.box], day, frozenset({pair.day}), by_time=False)


def _worth_asking(
    case: Case,
    here: Sequence[Block],
    homes: Mapping[str, _Homes],
    table: VisitTable | None,
    minutes: Floats,
) -> Iterator[tuple[Block, Block]]:
    """Pairs of visits of one day whose birds or whose times point to each other at all."""
    place = {block.box: k for k, block in enumerate(here)}
    there = np.zeros((len(here), len(here)), dtype=bool)
    for k, block in enumerate(here):
        there[k, [place[box] for box in homes[block.box].boxes if box in place]] = True
    found = there & there.T
    if table is not None and table.timed:
        at = np.array([minutes[block.rows[0]] for block in here])
        listed = np.array([table.minutes.get((block.box, block.day), math.nan) for block in here])
        near = np.abs(at[:, None] - listed) <= case.limit("stray_soon_min")
        found |= near & near.T
    for k, n in np.argwhere(np.triu(found, 1)).tolist():
        yield here[k], here[n]


def _homes(block: Block, rings: Ringings) -> _Homes:
    boxes: Counter[str] = Counter()
    days: set[int] = set()
    told = 0
    for i in block.rows:
        if not rings.ring[i] or rings.age[i] not in NESTLING:
            continue
        rows = rings.rows_of_ring.get(bare(str(rings.ring[i])), ())
        others = [j for j in rows if int(rings.day[j]) != block.day and rings.box[j]]
        there = {str(rings.box[j]) for j in others}
        told += bool(there)
        boxes.update(there)
        days.update(int(rings.day[j]) for j in others)
    return _Homes(boxes, frozenset(days), told)


def _crossed(case: Case, one: Block, other: Block, homes: Mapping[str, _Homes]) -> frozenset[int]:
    """Days that say that two visits are exchanged; none where they do not."""
    least = case.limit("page_birds_least")
    of_one, of_other = homes[one.box], homes[other.box]
    if min(of_one.told, of_other.told) < least:
        return frozenset()
    # a ring may be wrong, too, so not each bird need tell
    share = case.limit("page_share")
    if any(
        there.boxes[away.box] < max(least, share * there.told)
        for there, away in ((of_one, other), (of_other, one))
    ):
        return frozenset()
    if of_one.boxes[one.box] or of_other.boxes[other.box]:
        return frozenset()
    return of_one.days | of_other.days


def _no_home(one: Block, other: Block, homes: Mapping[str, _Homes], days: frozenset[int]) -> bool:
    """Whether no bird of the two is at home where it is written, on other days."""
    return bool(days) or not (homes[one.box].boxes[one.box] or homes[other.box].boxes[other.box])


def _told_by_time(
    case: Case, pair: tuple[Block, Block], table: VisitTable | None, minutes: Floats, rings: Ringings
) -> int:
    """Say whether the times of two visits are each other's: 1; their own: -1; nothing: 0."""
    if table is None or not table.timed:
        return 0
    at = [minutes[block.rows[0]] for block in pair]
    listed = [table.minutes.get((block.box, block.day), math.nan) for block in pair]
    soon = case.limit("stray_soon_min")
    if math.isnan(sum(at) + sum(listed)) or abs(listed[0] - listed[1]) <= soon:
        return 0
    if all(abs(time - told) <= soon / 2 for time, told in zip(at, listed, strict=True)):
        return -1
    crossed = all(abs(time - told) <= soon / 2 for time, told in zip(at, reversed(listed), strict=True))
    counted = [table.alive.get((block.box, block.day), math.nan) for block in pair]
    young = [young_in(block, rings) for block in pair]
    against = counted[0] != counted[1] and young != counted[::-1] and not math.isnan(sum(counted))
    return int(crossed and not against)

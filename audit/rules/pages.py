"""Whole visits under another box: what the table of visits, and the birds on other days, say of them."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.models.calendar_slips import date_slips
from audit.models.ring_number import bare
from audit.models.spelling import one_slip_apart
from audit.models.time_of_day import minutes_of
from audit.rules.sheet_order import blocks_in

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Mapping, Sequence

    from audit.rules.case import Case
    from audit.rules.ring_rows import Ringings
    from audit.rules.sheet_order import Block

__all__ = ["Exchange", "Misplaced", "exchanged_broods", "misplaced_pages"]

#: A box and a day as days since 1970.
Visit = tuple[str, int]


@dataclass(frozen=True, slots=True)
class Misplaced:
    """Rows of one visit that probably belong to another box visited that day.

    Attributes
    ----------
    rows : tuple of int
        Positions in the handlings.
    box, meant : str
        As typed; as meant.
    day : int
        Days since 1970.
    p : float
        Probability that the box is wrong and this one was meant.
    """

    rows: tuple[int, ...]
    box: str
    meant: str
    day: int
    p: float


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
class _Table:
    """The table of visits: minutes and young counted of each visit, and how far it is to be trusted."""

    minutes: Mapping[Visit, float]
    alive: Mapping[Visit, float]
    unlisted: float
    unmet: frozenset[Visit]
    unmet_share: float
    timed: bool


@dataclass(frozen=True, slots=True)
class _Pair:
    """Two visits of one day that may be exchanged; the other days that say so, and whether times do."""

    one: Block
    other: Block
    day: int
    days: frozenset[int]
    by_time: bool


def misplaced_pages(
    case: Case, blocks: list[Block], rings: Ringings, blamed: set[int]
) -> Iterator[Misplaced]:
    """Find visits that are not listed, on days with a listed visit of which no bird is written.

    References
    ----------
    Bayes' theorem over the listed visits to other boxes that day, and to the same box on other days.
    """
    table = _table(case, blocks)
    if table is None:
        return
    by_day: dict[int, list[Visit]] = defaultdict(list)
    by_box: dict[str, list[Visit]] = defaultdict(list)
    for visit in sorted(table.unmet):
        by_day[visit[1]].append(visit)
        by_box[visit[0]].append(visit)
    minutes = _minutes(case)
    parts = Counter((block.box, block.day) for block in blocks)
    for block in blocks:
        own = (block.box, block.day)
        if (
            own in table.minutes
            or parts[own] > 1
            or len(block.rows) <= 1
            or not blamed.isdisjoint(block.rows)
        ):
            continue
        places = [*by_day.get(block.day, ()), *by_box.get(block.box, ())]
        odds = {place: _odds(case, block, rings, table, place, minutes) for place in places}
        boxes = [place for place in odds if place[1] == block.day]
        if not boxes:
            continue
        meant = max(boxes, key=lambda place: (odds[place], place))
        p = odds[meant] / (1 + sum(odds.values()))
        if p >= case.limit("page_from"):
            yield Misplaced(block.rows, block.box, meant[0], block.day, min(p, case.limit("p_most")))


def _table(case: Case, blocks: list[Block]) -> _Table | None:
    if not case.season.has("visits", "date", "box"):
        return None
    frame = case.sure("visits")
    listed = blocks_in(case, "visits")
    if not listed:
        return None
    column = {name: frame[name].tolist() if name in frame.columns else None for name in ("time", "alive")}
    minutes: dict[Visit, float] = {}
    alive: dict[Visit, float] = {}
    for visit in listed:
        row, place = visit.rows[0], (visit.box, visit.day)
        minutes[place] = minutes_of(column["time"][row]) if column["time"] else math.nan
        count = column["alive"][row] if column["alive"] else None
        alive[place] = float(count) if isinstance(count, int | float) else math.nan
    written = {(block.box, block.day) for block in blocks if len(block.rows) > 1}
    all_written = {(block.box, block.day) for block in blocks}
    first, last = min(day for _, day in minutes), max(day for _, day in minutes)
    asked = [place for place in written if first <= place[1] <= last]
    lacking = sum(place not in minutes for place in asked)
    if lacking > case.limit("stray_unlisted_share") * len(asked):
        return None
    # an empty box has no birds to write
    full = [place for place, count in alive.items() if not count <= 0]
    if all(math.isnan(count) for count in alive.values()):
        return None
    unmet = frozenset(place for place in full if place not in all_written)
    clock = _minutes(case)
    gaps = [
        abs(clock[block.rows[0]] - minutes[block.box, block.day])
        for block in blocks
        if (block.box, block.day) in minutes
    ]
    known = [gap for gap in gaps if not math.isnan(gap)]
    near = sum(gap <= case.limit("stray_soon_min") for gap in known)
    return _Table(
        minutes,
        alive,
        (lacking + 1 / 2) / (len(asked) + 1),
        unmet,
        (max(len(unmet) - 1, 0) + 1 / 2) / (len(full) + 1),
        len(known) > 1 and near >= case.limit("page_timed_share") * len(known),
    )


def _minutes(case: Case) -> list[float]:
    frame = case.sure("handlings")
    if "time" not in frame.columns:
        return [math.nan] * len(frame)
    return [minutes_of(text) for text in frame["time"].tolist()]


def _odds(
    case: Case, block: Block, rings: Ringings, table: _Table, place: Visit, minutes: list[float]
) -> float:
    most = case.limit("stray_most")
    odds = float(case.limit("stray_rate")) * min(1 / table.unlisted, most) * min(1 / table.unmet_share, most)
    gap = abs(minutes[block.rows[0]] - table.minutes[place])
    if table.timed and not math.isnan(gap):
        odds *= case.limit("page_at_time" if gap <= case.limit("stray_soon_min") else "page_late")
    young = sum(rings.age[i] in ("", "1") for i in block.rows)
    count = table.alive[place]
    if not math.isnan(count):
        odds *= case.limit("page_same_count" if count == young else "page_other_count")
    homes = {
        str(rings.box[j])
        for i in block.rows
        if rings.ring[i]
        for j in rings.rows_of_ring.get(bare(str(rings.ring[i])), ())
        if int(rings.day[j]) != block.day and rings.box[j]
    }
    if place[1] == block.day:
        if homes:
            odds *= case.limit("page_home" if place[0] in homes else "page_not_home")
        return float(odds * (case.limit("page_near_label") if one_slip_apart(place[0], block.box) else 1.0))
    typed, meant = (_date(day) for day in (block.day, place[1]))
    return float(odds * (1.0 if meant in date_slips(typed) else case.limit("stray_far_date")))


def _date(day: int) -> dt.date:
    made: dt.date = np.datetime64(day, "D").astype(object)
    return made


def exchanged_broods(
    case: Case, blocks: list[Block], rings: Ringings, blamed: set[int]
) -> Iterator[tuple[Exchange, ...]]:
    """Find pairs of visits of one day whose young are in each other's box on other days.

    Where two visits of the same boxes contradict each other, both are given together.
    """
    table = _table(case, blocks)
    minutes = _minutes(case)
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
    homes: Mapping[str, tuple[Homes, frozenset[int], int]],
    table: _Table | None,
    minutes: Sequence[float],
) -> Iterator[tuple[Block, Block]]:
    """Pairs of visits of one day whose birds or whose times point to each other at all."""
    place = {block.box: k for k, block in enumerate(here)}
    there = np.zeros((len(here), len(here)), dtype=bool)
    for k, block in enumerate(here):
        there[k, [place[box] for box in homes[block.box][0] if box in place]] = True
    found = there & there.T
    if table is not None and table.timed:
        at = np.array([minutes[block.rows[0]] for block in here])
        listed = np.array([table.minutes.get((block.box, block.day), math.nan) for block in here])
        near = np.abs(at[:, None] - listed) <= case.limit("stray_soon_min")
        found |= near & near.T
    for k, n in np.argwhere(np.triu(found, 1)).tolist():
        yield here[k], here[n]


#: Boxes of the birds of a visit on other days, and those days.
Homes = Counter[str]


def _homes(block: Block, rings: Ringings) -> tuple[Homes, frozenset[int], int]:
    """Boxes in which the young of a visit are on other days, by birds; those days; how many birds tell."""
    boxes: Homes = Counter()
    days: set[int] = set()
    told = 0
    for i in block.rows:
        if not rings.ring[i] or rings.age[i] not in ("", "1"):
            continue
        rows = rings.rows_of_ring.get(bare(str(rings.ring[i])), ())
        others = [j for j in rows if int(rings.day[j]) != block.day and rings.box[j]]
        there = {str(rings.box[j]) for j in others}
        told += bool(there)
        boxes.update(there)
        days.update(int(rings.day[j]) for j in others)
    return boxes, frozenset(days), told


def _crossed(
    case: Case, one: Block, other: Block, homes: Mapping[str, tuple[Homes, frozenset[int], int]]
) -> frozenset[int]:
    """Days that say that two visits are exchanged; none where they do not."""
    least = case.limit("page_birds_least")
    (in_one, days_one, told_one), (in_other, days_other, told_other) = homes[one.box], homes[other.box]
    if min(told_one, told_other) < least:
        return frozenset()
    # a ring may be wrong, too, so not each bird need tell
    share = case.limit("page_share")
    if in_one[other.box] < max(least, share * told_one) or in_other[one.box] < max(least, share * told_other):
        return frozenset()
    if in_one[one.box] or in_other[other.box]:
        return frozenset()
    return days_one | days_other


def _no_home(
    one: Block, other: Block, homes: Mapping[str, tuple[Homes, frozenset[int], int]], days: frozenset[int]
) -> bool:
    """Whether no bird of the two is at home where it is written, on other days."""
    return bool(days) or not (homes[one.box][0][one.box] or homes[other.box][0][other.box])


def _told_by_time(
    case: Case, pair: tuple[Block, Block], table: _Table | None, minutes: list[float], rings: Ringings
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
    young = [sum(rings.age[i] in ("", "1") for i in block.rows) for block in pair]
    against = counted[0] != counted[1] and young != counted[::-1] and not math.isnan(sum(counted))
    return int(crossed and not against)

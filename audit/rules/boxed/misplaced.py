"""Whole visits under another box: one that was visited that day, and of which no bird is written."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.models.calendar_slips import date_slips
from audit.models.ring_number import bare
from audit.models.spelling import one_slip_apart
from audit.rules.boxed.visit_table import visit_table, young_in
from audit.rules.columns import minutes_of_rows
from audit.rules.sheet_order import day_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    import numpy as np
    from numpy.typing import NDArray

    from audit.rules.boxed.visit_table import Visit, VisitTable
    from audit.rules.case import Case
    from audit.rules.ring_rows import Ringings
    from audit.rules.sheet_order import Block

    Floats = NDArray[np.float64]

__all__ = ["Misplaced", "misplaced_pages"]


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


def misplaced_pages(
    case: Case, blocks: list[Block], rings: Ringings, blamed: set[int]
) -> Iterator[Misplaced]:
    """Find visits that are not listed, on days with a listed visit of which no bird is written.

    References
    ----------
    Bayes' theorem over the listed visits to other boxes that day, and to the same box on other days.
    """
    table = visit_table(case, blocks)
    if table is None:
        return
    by_day: dict[int, list[Visit]] = defaultdict(list)
    by_box: dict[str, list[Visit]] = defaultdict(list)
    for visit in sorted(table.unmet):
        by_day[visit[1]].append(visit)
        by_box[visit[0]].append(visit)
    minutes = minutes_of_rows(case)
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


def _odds(
    case: Case, block: Block, rings: Ringings, table: VisitTable, place: Visit, minutes: Floats
) -> float:
    most = case.limit("stray_most")
    odds = float(case.limit("stray_rate")) * min(1 / table.unlisted, most) * min(1 / table.unmet_share, most)
    gap = abs(minutes[block.rows[0]] - table.minutes[place])
    if table.timed and not math.isnan(gap):
        odds *= case.limit("page_at_time" if gap <= case.limit("stray_soon_min") else "page_late")
    young = young_in(block, rings)
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
    typed, meant = (day_of(day) for day in (block.day, place[1]))
    return float(odds * (1.0 if meant in date_slips(typed) else case.limit("stray_far_date")))

"""The table of visits: when each box was visited, how many young were counted, how far to trust it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.models.time_of_day import minutes_of
from audit.rules.columns import minutes_of_rows
from audit.rules.sheet_order import blocks_in

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.rules.case import Case
    from audit.rules.ring_rows import Ringings
    from audit.rules.sheet_order import Block

__all__ = ["NESTLING", "Visit", "VisitTable", "visit_table", "young_in"]

#: Age codes of nestlings, and none.
NESTLING = ("", "1")
#: A box and a day as days since 1970.
Visit = tuple[str, int]


@dataclass(frozen=True, slots=True)
class VisitTable:
    """What the table of visits tells beside the handlings.

    Attributes
    ----------
    minutes, alive : mapping of (str, int) to float
        Box and day -> minutes since midnight, and young that were counted; not a number where not written.
    unlisted : float
        Share of the visits with handlings that the table lacks.
    unmet : frozenset of (str, int)
        Visits at which there were young, and of which no bird is written.
    unmet_share : float
        How often that is so, but for one.
    timed : bool
        Whether handlings are mostly written at the time of their visit.
    """

    minutes: Mapping[Visit, float]
    alive: Mapping[Visit, float]
    unlisted: float
    unmet: frozenset[Visit]
    unmet_share: float
    timed: bool


def visit_table(case: Case, blocks: list[Block]) -> VisitTable | None:
    """Lay out the table of visits; None where there is none, or too many visits are not in it."""
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
    clock = minutes_of_rows(case)
    gaps = [
        abs(clock[block.rows[0]] - minutes[block.box, block.day])
        for block in blocks
        if (block.box, block.day) in minutes
    ]
    known = [gap for gap in gaps if not math.isnan(gap)]
    near = sum(gap <= case.limit("stray_soon_min") for gap in known)
    return VisitTable(
        minutes,
        alive,
        (lacking + 1 / 2) / (len(asked) + 1),
        unmet,
        (max(len(unmet) - 1, 0) + 1 / 2) / (len(full) + 1),
        len(known) > 1 and near >= case.limit("page_timed_share") * len(known),
    )


def young_in(block: Block, rings: Ringings) -> int:
    """Count the rows of a visit that may be nestlings."""
    return sum(rings.age[i] in NESTLING for i in block.rows)

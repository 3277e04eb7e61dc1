"""Birds that were seen again before they were ringed: one of the two dates is wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.calendar_slips import date_slips
from audit.models.ring_number import bare
from audit.rules.case import At
from audit.rules.dated.doubts import left_out
from audit.rules.sheet_order import day_of, number_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding
    from audit.rules.case import Case
    from audit.rules.dated.evidence import DaysKnown
    from audit.rules.ring_rows import Ringings
    from audit.rules.sheet_order import Block

__all__ = ["seen_before_ringed"]


def seen_before_ringed(
    case: Case, blocks: list[Block], rings: Ringings, known: DaysKnown, blamed: set[int]
) -> Iterator[Finding]:
    """Rows of one visit whose birds were ringed at one later visit to the same box."""
    ringed_at = {
        (bare(rings.ring[i]), str(rings.box[i])): i
        for i in np.flatnonzero(rings.event == "ringed").tolist()
        if i not in blamed and rings.visit[i] >= 0
    }
    for block in blocks:
        if not blamed.isdisjoint(block.rows):
            continue
        if any(rings.event[i] != "re-encountered" for i in block.rows):
            continue
        origins = [ringed_at.get((bare(rings.ring[i]), block.box)) for i in block.rows]
        told = [i for i in origins if i is not None]
        later = {int(rings.day[i]) for i in told}
        if len(told) < len(origins) or len(later) != 1 or min(later) <= block.day:
            continue
        yield _before_ringing(case, rings, known, block, told)


def _before_ringing(
    case: Case, rings: Ringings, known: DaysKnown, block: Block, origins: list[int]
) -> Finding:
    ringed = int(rings.day[origins[0]])
    message = (
        f"The birds of box {block.box} were seen again on {day_of(block.day)}, "
        f"before they were ringed on {day_of(ringed)}"
    )
    seen = [str(rings.labels[i]) for i in block.rows]
    first = [str(rings.labels[i]) for i in origins]
    if known.agreed.isdisjoint(origins):
        suspects = [At(label, "date") for label in (*seen, *first)]
        return case.blame("seen_before_ringed", suspects, f"{message}: one of the two dates is wrong.")
    slips = date_slips(day_of(block.day))
    most = case.limit("brood_days")
    near = [
        day
        for day in slips
        if (0 < number_of(day) - ringed <= most and (block.box, number_of(day)) not in known.handled)
        or (number_of(day) != ringed and left_out(block, number_of(day), rings, known))
    ]
    turned = [day for day in near if slips[day] in ("exchanged", "year")] or near
    suggested = turned[0] if len(turned) == 1 else ""
    message += f": {suggested} was probably meant." if suggested else "."
    p = case.limit("p_seen")
    others = [] if suggested else case.evenly("seen_before_ringed", turned)
    suspects = [At(label, "date", suggested, p, others=others) for label in seen]
    return case.blame("seen_before_ringed", suspects, message, [(label, "date") for label in first])

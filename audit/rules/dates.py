"""Is every date a possible day of this season? Sheet, rings and visits each say when a row was written."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.rules.case import At
from audit.rules.dated.doubts import doubt_of
from audit.rules.dated.evidence import days_known
from audit.rules.dated.seen_before import seen_before_ringed
from audit.rules.dated.verdicts import how_slipped, said_of_doubts
from audit.rules.hatching import hatching
from audit.rules.heeded import READER_CLOCK, RINGINGS, together
from audit.rules.ringings import ringings_of
from audit.rules.rule import Rule
from audit.rules.sheet_order import NO_DAY, blocks_in, day_of
from audit.rules.strays import STRAYS, stray_limits, strays_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case
    from audit.rules.ring_rows import Ringings

__all__ = ["RULE"]


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Find dates that cannot be, or that a single slip would put in their place."""
    frame = case.sure("handlings")
    blocks = blocks_in(case, "handlings")
    if not blocks:
        yield case.not_run("slip", "no handling has both date and box")
        return
    labels = [str(label) for label in frame.index]
    rings = ringings_of(case)
    known = days_known(case, blocks, rings)
    if known.today == NO_DAY:
        yield case.not_run("future", "most dates lie after today: the clock of this computer may be wrong")
    doubts = [doubt for i in range(len(blocks)) if (doubt := doubt_of(case, blocks, i, rings, known)).reasons]
    blamed: set[int] = set()
    for finding, rows in said_of_doubts(case, doubts, labels):
        if finding.severity != "note":
            blamed.update(rows)
        yield finding
    for finding, row in _strays(case, rings, blamed, known.today):
        blamed.add(row)
        yield finding
    yield from seen_before_ringed(case, blocks, rings, known, blamed)
    yield from hatching(case, frozenset(labels[i] for i in blamed))


def _strays(case: Case, rings: Ringings, blamed: set[int], today: int) -> Iterator[tuple[Finding, int]]:
    """Single rows whose date was probably that of the visit next to them."""
    limits = stray_limits(case)
    for stray in strays_of(case, rings, limits, blamed):
        if stray.field != "date" or stray.p_cell < limits["stray_p_least"]:
            continue
        label, (box, day) = str(rings.labels[stray.row]), stray.meant
        if today != NO_DAY and day > today:
            # a visit to come is itself a slip, and no place for others
            continue
        why = " and ".join(stray.why) or "it stands beside its rows"
        typed = day_of(int(rings.day[stray.row]))
        how = how_slipped(typed, day_of(day))
        message = (
            f"{typed} does not fit: the row belongs to the visit to box {box} on {day_of(day)}{how}: {why}."
        )
        p = min(stray.p_cell, case.limit("p_most"))
        others = [(day_of(other), share) for (there, other), share in stray.shares.items() if there == box]
        yield case.blame("slip", [At(label, "date", day_of(day), p, stray.p, others)], message), stray.row


RULE = Rule(
    "dates",
    {"handlings": ("date", "box", "ring")},
    check,
    heeds=together(RINGINGS, STRAYS, READER_CLOCK, {"handlings": ("age_days", "hatch_date")}),
)

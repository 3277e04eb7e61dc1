"""Is each ring on one bird, once? Where a number stands twice, the run of its visit tells which is wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.rules.heeded import RINGINGS, TAG_BOOK, together
from audit.rules.ringings import ringings_of
from audit.rules.rule import Rule
from audit.rules.twice.in_visit import twice_in_visit
from audit.rules.twice.met import met_before_ringed, met_in_two_boxes, never_ringed
from audit.rules.twice.ringed import ringed_again, ringed_twice
from audit.season import texts_in

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case

__all__ = ["RULE"]


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Find numbers that are said to be on two birds, or on one bird twice."""
    rings = ringings_of(case)
    repeated = [rows for rows in rings.rows_of_ring.values() if len(rows) > 1]
    tags = texts_in(case.sure("handlings"), "tag")
    again: dict[int, list[tuple[int, int]]] = {}
    for rows in repeated:
        settled: set[int] = set()
        yield from twice_in_visit(case, rings, tags, rows, settled)
        ringed = [i for i in rows if rings.first[i] and i not in settled]
        if len(ringed) > 1:
            yield from ringed_twice(case, rings, tags, ringed, again)
        told = [i for i in rows if rings.event[i] == "ringed" and i not in settled]
        if len(told) == 1:
            yield from met_before_ringed(case, rings, told[0], [i for i in rows if i not in settled])
        yield from met_in_two_boxes(case, rings, tags, [i for i in rows if i not in settled])
    for pairs in again.values():
        yield ringed_again(case, rings, pairs)
    yield from never_ringed(case, rings, tags)


RULE = Rule(
    "ring_twice",
    {"handlings": ("ring", "box", "date")},
    check,
    heeds=together(RINGINGS, TAG_BOOK, {"handlings": ("time", "gross_g", "net_g", "wing_mm")}),
)

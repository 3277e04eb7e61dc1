"""One brood size, but too many birds or another count."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.rules.broods.stray_rows import other_box, stray_box
from audit.rules.broods.words import birds, have, its, whole
from audit.rules.case import At

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding
    from audit.rules.box_visits import BoxVisit
    from audit.rules.broods.visits import BroodVisits


__all__ = ["one_size"]


def one_size(seen: BroodVisits, visit: BoxVisit, size: float) -> Iterator[Finding]:
    """Blame a size that fewer young bear out than were handled or counted, or a count."""
    if visit.handled > size:
        yield from _more_handled(seen, visit, size)
    elif np.isfinite(visit.alive) and visit.alive != size:
        yield from _count(seen, visit, size)


def _more_handled(seen: BroodVisits, visit: BoxVisit, size: float) -> Iterator[Finding]:
    sheet = seen.sheet
    strays = [(int(row), box) for row in visit.rows if (box := stray_box(seen, visit, int(row)))]
    if visit.handled - size == len(strays):
        for row, box in strays:
            yield other_box(seen, visit, row, box, size)
        return
    sized = [int(row) for row in visit.rows if np.isfinite(sheet.size[row])]
    says = f"{birds(visit.handled)} were handled in box {visit.box} on {visit.date}"
    if visit.alive == visit.handled:
        p = seen.case.limit("p_decided")
        yield seen.blame(
            "more_handled",
            [At(sheet.labels[row], "brood_size", visit.handled, p, p) for row in sized],
            f"{says} and as many were counted, but brood size says {whole(size)}.",
            [(visit.alive_label, "alive")],
        )
    elif len(grown := _full_grown(seen, visit)) == visit.handled - size:
        yield seen.blame(
            "grown",
            [At(sheet.labels[row], "age") for row in grown],
            f"{says}, but brood size says {whole(size)}: by {its(len(grown))} wing"
            f" {birds(len(grown))} of them {'is' if len(grown) == 1 else 'are'} full-grown.",
            [(sheet.labels[row], "wing_mm") for row in grown],
        )
    elif visit.alive == size or visit.handled >= size * 2:
        yield seen.blame(
            "two_broods",
            [At(sheet.labels[sized[0]], "box")],
            f"{says}, but brood size says {whole(size)}: are some of them from another box, or grown?",
        )
    else:
        yield seen.blame(
            "more_handled",
            [At(sheet.labels[sized[0]], "brood_size", visit.handled)],
            f"{says}, but brood size says {whole(size)}.",
            [(sheet.labels[row], "ring") for row in visit.rows],
        )


def _full_grown(seen: BroodVisits, visit: BoxVisit) -> list[int]:
    """Rows of young whose wing is that of a full-grown bird, where siblings are smaller."""
    rows = [int(row) for row in visit.rows if seen.sheet.young[row] and seen.sheet.full_wing[row]]
    return rows if len(rows) * 2 < visit.handled else []


def _count(seen: BroodVisits, visit: BoxVisit, size: float) -> Iterator[Finding]:
    """Set the count of the visit against the brood size written for its birds."""
    sheet, case = seen.sheet, seen.case
    alive = whole(visit.alive)
    if not np.isfinite(size):
        yield seen.blame(
            "count",
            [At(visit.alive_label, "alive", visit.handled)],
            f"{alive} young counted in box {visit.box} on {visit.date}, but {birds(visit.handled)}"
            " were handled.",
        )
        return
    sized = [int(row) for row in visit.rows if sheet.size[row] == size]
    message = (
        f"{alive} young counted in box {visit.box} on {visit.date},"
        f" but {birds(len(sized))} of it {have(len(sized))} brood size {whole(size)}."
    )
    even, sure = case.limit("p_even"), case.limit("p_decided")
    witnesses = [(sheet.labels[row], "brood_size") for row in sized]
    if len(sized) > 1 or visit.alive < visit.handled:
        yield seen.blame(
            "count", [At(visit.alive_label, "alive", whole(size), sure, sure)], message, witnesses
        )
        return
    yield seen.blame(
        "count",
        [
            At(sheet.labels[sized[0]], "brood_size", alive, even, even),
            At(visit.alive_label, "alive", whole(size), even, even),
        ],
        message,
    )

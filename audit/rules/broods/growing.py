"""One brood at two visits."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from audit.rules.broods.words import whole
from audit.rules.case import At
from audit.rules.moves import accounted_for, moved_remarks

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding
    from audit.rules.box_visits import BoxVisit
    from audit.rules.broods.visits import BroodVisits


__all__ = ["growing"]


def growing(seen: BroodVisits) -> Iterator[Finding]:
    """Broods with more young at the later of two visits, when no more could hatch."""
    by_box: dict[str, list[int]] = {}
    for number, (_, box) in enumerate(seen.keys):
        by_box.setdefault(box, []).append(number)
    for numbers in by_box.values():
        ordered = sorted(numbers, key=lambda number: seen.keys[number][0])
        for one, other in pairwise(ordered):
            yield from _grown(seen, seen.visit(one), seen.visit(other))


def _grown(seen: BroodVisits, first: BoxVisit, later: BoxVisit) -> Iterator[Finding]:
    sheet = seen.sheet
    sizes = [sheet.size[visit.rows] for visit in (first, later)]
    known = [size[np.isfinite(size)] for size in sizes]
    if not all(len(size) and size.min() == size.max() for size in known):
        return
    before, after = known[0][0], known[1][0]
    days = (later.key[0] - first.key[0]).days
    if after <= before or days > seen.case.limit("same_brood_days"):
        return
    rings = {ring for ring in sheet.rings[first.rows] if isinstance(ring, str)}
    ages = sheet.age[first.rows]
    oldest = np.nanmax(ages) if np.isfinite(ages).any() else 0.0
    late = oldest < seen.case.limit("all_hatched_days") or seen.counts.eggs.get(first.key, 0) > 0
    if late or not rings & {ring for ring in sheet.rings[later.rows] if isinstance(ring, str)}:
        return
    row = next(int(row) for row in later.rows if np.isfinite(sheet.size[row]))
    if (sheet.labels[row], "brood_size") not in seen.blamed:
        remarks = moved_remarks(seen.case, [sheet.labels[row] for row in later.rows])
        # fewer birds that came than there are more leave a question
        said = len(remarks) >= after - before
        yield seen.blame(
            "growing_said" if said else "growing",
            [At(sheet.labels[row], "brood_size")],
            f"Box {later.box} had a brood of {whole(before)} on {first.date}"
            f" and of {whole(after)} on {later.date}{f'; {accounted_for(remarks[0])}' if said else ''}.",
        )

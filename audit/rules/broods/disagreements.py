"""Visits in which brood sizes differ from each other, from the count, or from the birds handled."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import numpy as np

from audit.rules.broods.mixed_sizes import mixed_sizes
from audit.rules.broods.one_size import one_size
from audit.rules.broods.words import whole
from audit.rules.case import At

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from audit.findings import Finding
    from audit.rules.broods.visits import BroodVisits

    Ints = NDArray[np.int64]

__all__ = ["disagreements"]


def disagreements(seen: BroodVisits) -> Iterator[Finding]:
    """Visits in which sizes differ from each other, from the count, or from the birds handled."""
    ringed_only = _ringed_only(seen)
    yield from _habit(seen, ringed_only)
    for number in _disputed(seen):
        if int(number) in ringed_only:
            continue
        visit = seen.visit(number)
        sizes = seen.sheet.size[visit.rows]
        written = Counter(sizes[np.isfinite(sizes)].tolist())
        if len(written) > 1:
            yield from mixed_sizes(seen, visit, written)
        else:
            yield from one_size(seen, visit, next(iter(written), float("nan")))


def _habit(seen: BroodVisits, ringed_only: frozenset[int]) -> Iterator[Finding]:
    if not ringed_only:
        return
    visit = seen.visit(min(ringed_only))
    row = next(int(row) for row in visit.rows if np.isfinite(seen.sheet.size[row]))
    yield seen.case.blame(
        "ringed_only",
        [At(seen.sheet.labels[row], "brood_size", whole(visit.alive))],
        f"At {len(ringed_only)} visits, such as box {visit.box} on {visit.date}, more young were"
        " counted than the brood size says, and it is the number of young ringed:"
        " does it count only those?",
        [(visit.alive_label, "alive")],
    )


def _disputed(seen: BroodVisits) -> Ints:
    sheet = seen.sheet
    n = len(seen.rows_of)
    known = np.isfinite(sheet.size)
    low, high = np.full(n, np.inf), np.full(n, -np.inf)
    np.minimum.at(low, sheet.visit[known], sheet.size[known])
    np.maximum.at(high, sheet.visit[known], sheet.size[known])
    nothing = (float("nan"), "")
    alive = np.array([seen.counts.alive.get(key, nothing)[0] for key in seen.keys])
    sized = np.isfinite(low)
    disputed = sized & (low != high)
    disputed |= sized & (seen.handled > high)
    disputed |= sized & np.isfinite(alive) & (alive != high)
    disputed |= np.isfinite(alive) & (alive < seen.handled)
    return np.flatnonzero(disputed)


def _ringed_only(seen: BroodVisits) -> frozenset[int]:
    """Visits with more young counted than ringed, where brood sizes count the ringed ones by habit."""
    compared, such = 0, []
    for number, rows in enumerate(seen.rows_of):
        alive = seen.counts.alive.get(seen.keys[number], (float("nan"), ""))[0]
        sizes = {size for size in seen.sheet.size[rows].tolist() if np.isfinite(size)}
        if not np.isfinite(alive) or len(sizes) != 1:
            continue
        compared += 1
        young = seen.sheet.young[rows] if seen.handled.any() else np.ones(len(rows), dtype=bool)
        ringed = {ring for ring in seen.sheet.rings[rows][young] if isinstance(ring, str)}
        if alive > (size := sizes.pop()) and size == len(ringed):
            such.append(number)
    least, share = seen.case.limit("ringed_only_visits"), seen.case.limit("ringed_only_share")
    return frozenset(such if len(such) >= max(least, share * compared) else ())

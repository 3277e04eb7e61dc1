"""A bird too old or too young for its brood."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.rules.case import At
from audit.rules.moves import accounted_for, moved_remarks

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from audit.findings import Finding
    from audit.rules.box_visits import BoxVisit
    from audit.rules.broods.visits import BroodVisits

    Ints = NDArray[np.int64]

__all__ = ["strangers"]


def strangers(seen: BroodVisits) -> Iterator[Finding]:
    """Broods in which one bird alone stretches the ages too far."""
    sheet, case = seen.sheet, seen.case
    n = len(seen.rows_of)
    aged = np.isfinite(sheet.age)
    low, high = np.full(n, np.inf), np.full(n, -np.inf)
    np.minimum.at(low, sheet.visit[aged], sheet.age[aged])
    np.maximum.at(high, sheet.visit[aged], sheet.age[aged])
    for number in np.flatnonzero(high - low > case.limit("spread_margin_days")):
        rows = seen.rows_of[number]
        rows = rows[aged[rows]]
        if len(rows) < case.limit("young_to_compare") or len(set(sheet.slug[rows])) > 1:
            continue
        allowed = case.declared.species[sheet.slug[rows[0]]].number("breeding.age_spread_days")
        if allowed is None or high[number] - low[number] <= allowed + case.limit("spread_margin_days"):
            continue
        odd = _odd_age(seen, rows, allowed)
        if odd is None or sheet.full_wing[odd] or _spoken_for(seen, sheet.labels[odd]):
            continue
        if not case.in_doubt(sheet.labels[odd], "box", "date", "age", "net_g"):
            yield _stranger(seen, seen.visit(int(number)), rows, odd)


def _spoken_for(seen: BroodVisits, label: str) -> bool:
    return any(blamed == label for blamed, _ in seen.blamed)


def _odd_age(seen: BroodVisits, rows: Ints, allowed: float) -> int | None:
    ordered = rows[np.argsort(seen.sheet.age[rows], kind="stable")]
    ages = seen.sheet.age[ordered]
    if ages[-1] - ages[1] <= allowed / 2:
        return int(ordered[0])
    if ages[-2] - ages[0] <= allowed / 2:
        return int(ordered[-1])
    return None


def _stranger(seen: BroodVisits, visit: BoxVisit, rows: Ints, odd: int) -> Finding:
    sheet = seen.sheet
    rest = sheet.age[[row for row in rows if row != odd]]
    remarks = moved_remarks(seen.case, [sheet.labels[odd]])
    asked = accounted_for(remarks[0]) if remarks else "is it from another box?"
    return seen.blame(
        "stranger_said" if remarks else "stranger",
        [At(sheet.labels[odd], "box")],
        f"By its wing this bird is {sheet.age[odd]:.0f} days old,"
        f" the others of box {visit.box} on {visit.date} {rest.min():.0f} to {rest.max():.0f}"
        f"{f'; {asked}.' if remarks else f': {asked}'}",
        [(sheet.labels[row], "wing_mm") for row in rows],
    )

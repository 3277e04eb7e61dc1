"""Slips of the hand in single codes that may look like a crossing."""

from __future__ import annotations

import math
from collections import defaultdict
from itertools import combinations
from typing import TYPE_CHECKING

from audit.models.ring_number import bare, split_ring
from audit.rules.crossed.visit_rows import Crossing, VisitRow, code_of, put_back
from audit.rules.expected_rings import Fit, expected_rings

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from audit.rules.crossed.laid_out import LaidOut
    from audit.rules.crossed.visit_rows import Field
    from audit.rules.ring_rows import Key

__all__ = ["slips_among", "slips_of"]


def slips_of(laid: LaidOut, visit: int) -> Iterator[tuple[Crossing, float]]:
    """Single slips that leave the other rings of the visit in order, with their log chances."""
    order = laid.orders.seen.get(visit, {}).get("first")
    if order is None or order.holds:
        return
    held = [r for r in laid.visits[visit] if r.ring in laid.orders.serial and laid.rings.first[r.place]]
    rate = math.log(laid.case.share("rates.ring") / len(laid.visits[visit]))
    for row in held:
        numbers = [laid.orders.serial[other.ring] for other in held if other is not row]
        if len(numbers) < 2 or numbers != sorted(numbers, key=lambda one: one[1]):  # noqa: PLR2004 - an order
            continue
        typed = str(laid.rings.ring[row.place])
        gaps = _gaps(laid, held)
        for expected in expected_rings(laid.rings, row.place):
            chance = laid.channel.log_chance(typed, expected.ring)
            if expected.fit < Fit.BESIDE or not math.isfinite(chance):
                continue
            meant = bare(expected.ring)
            fewer = gaps - _gaps(
                laid, [VisitRow(r.place, meant if r is row else r.ring, r.tag) for r in held]
            )
            fit = math.log(laid.limit("fit_beside")) if expected.fit == Fit.BESIDE else 0.0
            bonus = -fewer * math.log(laid.limit("ring_skipped"))
            yield Crossing(visit, "ring", ((row.place, meant),), "slipped"), rate + chance + fit + bonus


def slips_among(
    laid: LaidOut, state: Mapping[int, tuple[VisitRow, ...]]
) -> Iterator[tuple[dict[int, tuple[VisitRow, ...]], float]]:
    """Visits after one slip, or two in different rows, is put right, with their log chances.

    Such slips are for other rules to name; here they stand beside the crossings that may look like them.
    """
    fields: tuple[Field, ...] = ("ring", "tag")
    by_ring, by_tag = laid.pairs.by_ring, laid.pairs.by_tag
    single: list[tuple[int, Crossing, float]] = []
    for visit, rows in state.items():
        for above, row in zip((None, *rows[:-1]), rows, strict=True):
            if not laid.pairs.is_odd(row):
                continue
            for field in fields:
                typed, copied = code_of(row, field), code_of(above, field) if above else None
                known = by_ring[row.ring] if field == "tag" else by_tag[row.tag]
                for meant in sorted(known):
                    chance = laid.channel.log_chance(typed, meant, above=copied)
                    if known[meant] - {visit} and math.isfinite(chance):
                        mended = Crossing(visit, field, ((row.place, meant),), "slipped")
                        rate = math.log(laid.case.share(f"rates.{field}"))
                        single.append((row.place, mended, rate + chance))
    for _, one, chance in single:
        yield {**state, one.visit: put_back(state[one.visit], one)}, chance
    single.sort(key=lambda slip: -slip[2])
    for (at, one, first), (other_at, other, second) in combinations(
        single[: int(laid.limit("slips_most"))], 2
    ):
        if at != other_at:
            changed = {**state, one.visit: put_back(state[one.visit], one)}
            yield {**changed, other.visit: put_back(changed[other.visit], other)}, first + second


def _gaps(laid: LaidOut, rows: Sequence[VisitRow]) -> int:
    """Count the unused numbers between the rings of a visit."""
    numbers: dict[Key, list[int]] = defaultdict(list)
    for row in rows:
        stem, digits = split_ring(row.ring)
        numbers[bare(stem), len(digits)].append(int(digits))
    most = int(laid.limit("gaps_most"))
    return sum(
        (key, number) not in laid.rings.used and (key, number) not in laid.rings.lost
        for key, found in numbers.items()
        for number in range(min(found), min(max(found), min(found) + most))
        if number not in found
    )

"""Ways to put the codes of a visit back into their rows."""

from __future__ import annotations

import math
from itertools import combinations
from typing import TYPE_CHECKING

from audit.models.ring_number import next_code
from audit.rules.crossed.visit_rows import Crossing, changed, code_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from audit.rules.crossed.laid_out import LaidOut
    from audit.rules.crossed.visit_rows import Field, How, VisitRow

__all__ = ["ways_back"]


def ways_back(laid: LaidOut, visit: int) -> Iterator[tuple[Crossing, float]]:
    """Ways to put the codes of a visit back, with the share of each among all crossings of a visit."""
    rows = laid.visits[visit]
    fields: tuple[Field, ...] = ("ring", "tag")
    rates = sum(laid.case.share(f"rates.{field}") for field in fields)
    for field in fields:
        of = laid.case.share(f"rates.{field}") / rates
        held = [row for row in rows if code_of(row, field)]
        codes = tuple(code_of(row, field) for row in held)
        if len(held) < 2 or len(set(codes)) < len(codes):  # noqa: PLR2004 - it takes two to change places
            continue
        ways = {_by_pairs(laid, visit, held, field), *_by_orders(laid, visit, held, field)}
        ways |= {(*codes[1:], codes[0]), (codes[-1], *codes[:-1])}
        odd = [k for k, row in enumerate(held) if laid.pairs.is_odd(row) or laid.events.is_odd(row)]
        for one, two in combinations(odd, 2):
            turned = list(codes)
            turned[one], turned[two] = codes[two], codes[one]
            ways.add(tuple(turned))
        for way in _counted(laid, visit, held, field):
            meant = changed(held, codes, way)
            yield Crossing(visit, field, meant, "counted"), of * laid.limit("counted_on") / len(held)
        for way in sorted(ways):
            if way and way != codes and sorted(way) == sorted(codes):
                prior, how = _share_of(laid, codes, way)
                yield Crossing(visit, field, changed(held, codes, way), how), of * prior


def _counted(laid: LaidOut, visit: int, held: Sequence[VisitRow], field: Field) -> Iterator[tuple[str, ...]]:
    """Codes as the other visits have them, where those typed count on by one from the row above."""
    by_ring, by_tag = laid.pairs.by_ring, laid.pairs.by_tag
    codes = [code_of(row, field) for row in held]
    for start in range(len(held) - 1):
        end = start + 1
        while (
            end < len(held)
            and held[end].place == held[end - 1].place + 1
            and codes[end] == next_code(codes[end - 1])
        ):
            end += 1
        way = list(codes)
        for k in range(start + 1, end):
            known = by_ring[held[k].ring] if field == "tag" else by_tag[held[k].tag]
            elsewhere = [code for code, where in known.items() if where - {visit}]
            if len(elsewhere) == 1 and (field == "tag" or laid.events.is_of_a_string(elsewhere[0])):
                way[k] = elsewhere[0]
        if way != codes and len(set(way)) == len(way):
            yield tuple(way)


def _by_pairs(laid: LaidOut, visit: int, held: Sequence[VisitRow], field: Field) -> tuple[str, ...]:
    """Codes as the other visits have them; what is left over goes where there is room, in order."""
    by_ring, by_tag = laid.pairs.by_ring, laid.pairs.by_tag
    codes = [code_of(row, field) for row in held]
    wanted: list[str] = []
    for row in held:
        known = by_ring[row.ring] if field == "tag" else by_tag[row.tag]
        elsewhere = [code for code, where in known.items() if where - {visit} and code in codes]
        wanted.append(elsewhere[0] if len(elsewhere) == 1 else "")
    if len(set(filter(None, wanted))) < sum(map(bool, wanted)):
        return ()
    for k, row in enumerate(held):
        if not wanted[k] and code_of(row, field) not in wanted:
            wanted[k] = code_of(row, field)
    left = [code for code in codes if code not in wanted]
    return tuple(code or left.pop(0) for code in wanted)


def _by_orders(
    laid: LaidOut, visit: int, held: Sequence[VisitRow], field: Field
) -> Iterator[tuple[str, ...]]:
    """Codes sorted as the reader stored them, or as the string runs."""
    codes = [code_of(row, field) for row in held]
    if field == "tag" and laid.book is not None:
        day = laid.orders.day_of(visit)
        place = {code: laid.book.read_place.get((day, code)) for code in codes}
        yield _sorted_known(codes, place)
    if field == "ring":
        for first in (True, False):
            place = {
                code_of(row, field): laid.orders.serial[row.ring][1]
                for row in held
                if row.ring in laid.orders.serial and bool(laid.rings.first[row.place]) == first
            }
            yield _sorted_known(codes, place)


def _share_of(laid: LaidOut, codes: tuple[str, ...], way: tuple[str, ...]) -> tuple[float, How]:
    """Share of one way of crossing among all in a visit of this size, and what it is."""
    n = len(codes)
    moved = [k for k in range(n) if codes[k] != way[k]]
    if len(moved) == 2:  # noqa: PLR2004 - a pair
        return laid.limit("crossed_pair") / math.comb(n, 2), "exchanged"
    run = moved[-1] - moved[0] + 1 == len(moved)
    part, turned = codes[moved[0] : moved[-1] + 1], way[moved[0] : moved[-1] + 1]
    if run and turned in ((*part[1:], part[0]), (part[-1], *part[:-1])):
        if len(moved) == n:
            return laid.limit("slid_whole") / 2, "slid"
        return laid.limit("slid_part") / (math.comb(n, 2) * 2), "slid"
    return laid.limit("crossed_otherwise") / math.factorial(n), "exchanged"


def _sorted_known(codes: Sequence[str], place: Mapping[str, int | None]) -> tuple[str, ...]:
    """Sort those codes whose place is known among their own cells."""
    known = sorted((code for code in codes if place.get(code) is not None), key=lambda code: place[code] or 0)
    return tuple(code if place.get(code) is None else known.pop(0) for code in codes)

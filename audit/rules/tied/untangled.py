"""The birds behind a knot of many slips."""

from __future__ import annotations

import math
from collections import defaultdict
from typing import TYPE_CHECKING

from audit.models.matching import settle
from audit.rules.tied.knots import Change, renewals_in

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.rules.tied.knots import Field, Knot
    from audit.rules.tied.slips import Slips

__all__ = ["untangled"]


def untangled(knot: Knot, slips: Slips) -> list[Change]:
    """Find the birds behind a knot of more than two slips, and the cells that are not theirs.

    Every row goes wholly to the bird that it fits best, one bird a row at each visit; what most rows of a
    bird say is its ring and its tag.
    """
    rows = knot.rows
    visits: dict[tuple[str, str], list[int]] = defaultdict(list)
    for i in range(len(rows)):
        visits[knot.visit(i)].append(i)
    rings = {ring: n for n, ring in enumerate(dict.fromkeys(row.ring for row in rows))}
    weighed: dict[tuple[Field, str, str], float] = {}

    def slip(field: Field, typed: str, meant: str) -> float:
        if typed == meant:
            return 0.0
        at = (field, typed, meant)
        if at not in weighed:
            wrong = math.log(slips.signs.case.limit(f"{field}_wrong"))
            shown = (
                (typed, meant)
                if field == "ring"
                else (slips.signs.book.printed(typed), slips.signs.book.printed(meant))
            )
            chance = slips.chance(shown[1], shown[0]) + float(slips.signs.case.limit("elsewhere"))
            weighed[at] = wrong + math.log(chance)
        return weighed[at]

    def weigh(row: int, members: Sequence[int]) -> float:
        ring = _most([rows[k].ring for k in members], rows[row].ring)
        key = _most([rows[k].key for k in members], rows[row].key)
        return slip("ring", rows[row].ring, ring) + slip("tag", rows[row].key, key)

    def new(row: int) -> float:
        shared = slips.foreign(copied=slips.signs.copied(rows[row], "tag"), here=False, shared=True)
        return math.log(slips.signs.case.limit("tag_wrong") * shared)

    birds = settle(
        list(visits.values()),
        [rings[row.ring] for row in rows],
        weigh,
        new,
        int(slips.signs.case.limit("rounds_most")),
    )
    changes = []
    for bird in dict.fromkeys(birds):
        members = [i for i in range(len(rows)) if birds[i] == bird]
        for field in ("ring", "tag"):
            codes = [rows[i].ring if field == "ring" else rows[i].key for i in members]
            most = _most(codes, "")
            if codes.count(most) * 2 > len(codes):
                changes += [
                    Change(i, "ring" if field == "ring" else "tag", most)
                    for i, code in zip(members, codes, strict=True)
                    if code != most
                ]
    state = knot.meant(changes)
    return changes if changes and renewals_in(knot, state, {change.row for change in changes}) == () else []


def _most(codes: Sequence[str], like: str) -> str:
    """Return the code that stands most often; of equals the one given, else the first in the alphabet."""
    return max(sorted(set(codes)), key=lambda code: (codes.count(code), code == like))

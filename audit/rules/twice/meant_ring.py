"""Which of several rows with one ring is wrong, which ring was meant in it, and how they are named."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from audit.models.ring_number import bare
from audit.rules.case import At
from audit.rules.expected_rings import Expected, Fit, Mend, best_expected, expected_rings, mend_ring

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.rules.case import Case
    from audit.rules.ring_rows import Ringings

__all__ = ["day_in_words", "either", "meant_in", "p_of", "place_in_words", "stands_out"]


def meant_in(rings: Ringings, tags: list[str], i: int, pair: Sequence[int]) -> Mend | None:
    """Find the ring that was probably meant in one of two rows with the same number."""
    borne = {
        bare(rings.ring[j]): j
        for j in rings.rows_of_box.get(str(rings.box[i]), ())
        if tags[i] and tags[j] == tags[i] and j not in pair and rings.ring[j]
    }
    if bare(rings.ring[i]) in borne:
        return None
    if len(borne) == 1:
        j = next(iter(borne.values()))
        # the same tag elsewhere names the bird, whatever the slip was
        return Mend(Expected(str(rings.ring[j]), Fit.BETWEEN, (j,)), "copied")
    expected = expected_rings(rings, i)
    mend = mend_ring(rings, i, str(rings.ring[i]), least=Fit.TIP, among=expected)
    if mend:
        return mend
    if not rings.first[i] and not rings.between_neighbours(i, str(rings.ring[i])):
        # several siblings are missing and a slip away: one of them may fit between the rows above and below
        fitting = [e for e in expected if rings.between_neighbours(i, e.ring)]
        if mend := mend_ring(rings, i, str(rings.ring[i]), least=Fit.TIP, among=fitting):
            return mend
    if i == 0 or rings.ring[i - 1] != rings.ring[i] or not rings.event[i]:
        return None
    # copied from the row above: the slip says nothing about the digits, so the place must say it all
    fitting = [e for e in expected if rings.between_neighbours(i, e.ring)]
    best = best_expected(rings, i, fitting)
    return Mend(best, "copied") if best else None


def p_of(case: Case, mend: Mend) -> float:
    """Return the probability that a ring is wrong and was meant so, by how well the one meant fits."""
    p: float = case.limit("p_of_fit")[mend.expected.fit - 1]
    return p


def stands_out(rings: Ringings, options: list[tuple[int, Mend]]) -> tuple[int, Mend] | None:
    """Choose the row that is wrong, when one stands out."""
    snug = [(i, mend) for i, mend in options if rings.snug[i]]
    if len(snug) < len(options):
        # a ring right beside one of its visit stands where it belongs
        options = [option for option in options if option not in snug]
    if not options:
        return None
    fit = max(mend.expected.fit for _, mend in options)
    leading = [(i, mend) for i, mend in options if mend.expected.fit == fit]
    if len(leading) > 1 and rings.first[leading[0][0]]:
        leading = [(i, mend) for i, mend in leading if rings.between_neighbours(i, mend.ring)]
    if len(leading) > 1 and not rings.first[leading[0][0]]:
        # birds met again are often written in the order of their rings: one row alone breaks it
        broken = [
            (i, mend)
            for i, mend in leading
            if not rings.between_neighbours(i, str(rings.ring[i])) and rings.between_neighbours(i, mend.ring)
        ]
        leading = broken or leading
    if len(leading) > 1:
        strays = [(i, mend) for i, mend in leading if not rings.at_home[i]]
        leading = strays if rings.first[leading[0][0]] and strays else leading
    return leading[0] if len(leading) == 1 else None


def either(case: Case, rings: Ringings, rows: list[int], suggested: str = "") -> list[At]:
    """Blame rows of which one is wrong; of two that stand together the lower, copied from the upper."""
    labels = [str(rings.labels[i]) for i in rows]
    if max(rows) - min(rows) == 1:
        p = case.limit("p_copied")
        return [At(str(rings.labels[max(rows)]), "ring", suggested, p, p)]
    even = 1 / len(rows)
    return [At(label, "ring", suggested, even, even) for label in labels]


def day_in_words(rings: Ringings, i: int) -> str:
    """Write the day of a row; that of a visit in doubt is not named."""
    return str(np.datetime64(int(rings.day[i]), "D")) if rings.visit[i] >= 0 else "another day"


def place_in_words(rings: Ringings, i: int) -> str:
    """Say where and when; the box of a row may be in doubt, and is then not named."""
    box = str(rings.box[i])
    return f"in box {box} on {day_in_words(rings, i)}" if box else "at a visit whose box is in doubt"

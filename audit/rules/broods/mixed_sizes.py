"""Brood sizes that differ among siblings."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from audit.rules.broods.stray_rows import other_box, stray_box
from audit.rules.broods.words import birds, have, whole
from audit.rules.case import At

if TYPE_CHECKING:
    from collections import Counter
    from collections.abc import Iterator

    from audit.findings import Finding
    from audit.rules.box_visits import BoxVisit
    from audit.rules.broods.visits import BroodVisits


__all__ = ["mixed_sizes"]


def mixed_sizes(seen: BroodVisits, visit: BoxVisit, written: Counter[float]) -> Iterator[Finding]:
    """Blame the odd ones among the sizes of one visit, or ask about two broods."""
    blocks = _blocks(seen, visit, written)
    if blocks:
        yield from _two_broods(seen, visit, blocks)
        return
    (top, times), *rest = written.most_common()
    odd = sum(n for _, n in rest)
    if times > odd:
        yield from _odd_ones(seen, visit, top, times)
    else:
        yield from _even(seen, visit, written)


def _odd_ones(seen: BroodVisits, visit: BoxVisit, top: float, times: int) -> Iterator[Finding]:
    sheet, case = seen.sheet, seen.case
    rows = [int(row) for row in visit.rows if np.isfinite(sheet.size[row]) and sheet.size[row] != top]
    for row in rows:
        stray = stray_box(seen, visit, row)
        if visit.handled > top and stray:
            yield other_box(seen, visit, row, stray, top)
            continue
        typed = whole(sheet.size[row])
        yield seen.blame(
            "mixed",
            [At(sheet.labels[row], "brood_size", whole(top), case.limit("p_odd"), case.limit("p_odd"))],
            f"Brood size {typed}, but {birds(times)} of box {visit.box} on {visit.date}"
            f" {have(times)} {whole(top)}.",
            [(sheet.labels[k], "brood_size") for k in visit.rows if sheet.size[k] == top],
        )


def _even(seen: BroodVisits, visit: BoxVisit, written: Counter[float]) -> Iterator[Finding]:
    """As many birds say one size as say another: a count, or the birds handled, may decide."""
    sheet, case = seen.sheet, seen.case
    possible = [size for size in written if size >= visit.handled]
    true = visit.alive if visit.alive in written else possible[0] if len(possible) == 1 else float("nan")
    decided = np.isfinite(true)
    p = case.limit("p_decided") if decided else case.limit("p_even")
    sizes = " and ".join(str(whole(size)) for size in sorted(written))
    suspects = []
    for row in visit.rows:
        if not np.isfinite(sheet.size[row]) or sheet.size[row] == true:
            continue
        others = [size for size in written if size != sheet.size[row]]
        meant = true if decided else others[0] if len(others) == 1 else float("nan")
        suspects.append(At(sheet.labels[row], "brood_size", whole(meant), p, p))
    why = ""
    if decided:
        why = (
            f"; {whole(visit.alive)} young were counted"
            if visit.alive == true
            else f"; {birds(visit.handled)} were handled"
        )
    yield seen.blame("mixed", suspects, f"Box {visit.box} on {visit.date} has brood sizes {sizes}{why}.")


def _blocks(seen: BroodVisits, visit: BoxVisit, written: Counter[float]) -> list[tuple[float, list[int]]]:
    """Two runs of rows, each of a brood size that its own birds fit, together too many for either."""
    if len(written) != 2 or visit.handled <= max(written):  # noqa: PLR2004 - two broods
        return []
    sized = [int(row) for row in visit.rows if np.isfinite(seen.sheet.size[row])]
    values = [seen.sheet.size[row] for row in sized]
    changes = sum(one != other for one, other in pairwise(values))
    blocks = [(value, [r for r in sized if seen.sheet.size[r] == value]) for value in dict.fromkeys(values)]
    fits = all(1 < seen.sheet.young[rows].sum() <= value for value, rows in blocks)
    return blocks if changes == 1 and fits else []


def _two_broods(
    seen: BroodVisits, visit: BoxVisit, blocks: list[tuple[float, list[int]]]
) -> Iterator[Finding]:
    empty = seen.counts.without_birds(visit.key[0], seen.with_birds)
    fitting = [(box, rows, size) for size, rows in blocks for box, count in empty.items() if count == size]
    sizes = " and ".join(str(whole(size)) for size, _ in blocks)
    if len(fitting) == 1:
        box, rows, size = fitting[0]
        yield seen.blame(
            "wrong_page",
            [At(seen.sheet.labels[row], "box", box) for row in rows],
            f"Broods of {sizes} stand under box {visit.box} on {visit.date};"
            f" box {box} was visited that day, {whole(size)} young were counted there,"
            " and no bird is written for it.",
            [(seen.sheet.labels[row], "brood_size") for row in rows],
        )
        return
    yield seen.blame(
        "two_broods",
        [At(seen.sheet.labels[blocks[-1][1][0]], "box")],
        f"Broods of {sizes} stand under box {visit.box} on {visit.date}: is one of them from another box?",
    )

"""Is every box one of ours? A label may be unknown, written otherwise, or that of another brood."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from audit.models.ring_number import bare
from audit.rules.boxed.elsewhere import broods_elsewhere
from audit.rules.boxed.exchanged import exchanged_broods
from audit.rules.boxed.in_place import boxes_not_in_place
from audit.rules.boxed.labels import listed_boxes, odd_labels
from audit.rules.boxed.misplaced import misplaced_pages
from audit.rules.case import At
from audit.rules.heeded import RINGINGS, together
from audit.rules.ringings import ringings_of
from audit.rules.rule import Rule
from audit.rules.sheet_order import Block, blocks_in, day_of
from audit.rules.strays import STRAYS, stray_limits, strays_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case
    from audit.rules.ring_rows import Ringings

__all__ = ["RULE"]


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Find boxes that do not exist, were not in place, or are not those of the birds in the row."""
    rings = ringings_of(case)
    blamed: set[int] = set()
    listed = listed_boxes(case)
    for table in ("handlings", "visits"):
        if case.season.has(table, "box", "date"):
            for finding, rows in odd_labels(case, table, rings, listed):
                if table == "handlings":
                    blamed.update(rows)
                yield finding
    if not listed:
        yield case.not_run("unknown", "no table 'boxes', or one that lacks too many boxes")
    blocks = blocks_in(case, "handlings")
    for rows, finding in _among_others(case, blocks, rings, blamed):
        blamed.update(rows)
        yield finding
    for page, finding in _pages(case, blocks, rings, blamed):
        blamed.update(page)
        yield finding
    yield from _strays(case, rings, blamed)
    yield from broods_elsewhere(case, blocks, rings, blamed)
    yield from boxes_not_in_place(case, {str(rings.labels[i]) for i in blamed})


def _among_others(
    case: Case, blocks: list[Block], rings: Ringings, blamed: set[int]
) -> Iterator[tuple[list[int], Finding]]:
    """Rows between two of a brood that they belong to, with another box."""
    seen = Counter((block.box, block.day) for block in blocks)
    for above, block, other in zip(blocks, blocks[1:], blocks[2:], strict=False):
        if not above.page == block.page == other.page or above.box != other.box:
            continue
        if seen[block.box, block.day] > 1 or len(block.rows) > 1:
            continue
        i = block.rows[0]
        if i in blamed or not blamed.isdisjoint(other.rows):
            continue
        if not _belongs(rings, i, above.rows + other.rows):
            continue
        message = (
            f"This row says box {block.box}, but it stands with the brood of box {other.box} "
            f"and its ring belongs there."
        )
        witnesses = [(str(rings.labels[j]), "box") for j in other.rows]
        yield (
            [i],
            case.blame("among_others", [At(str(rings.labels[i]), "box", other.box)], message, witnesses),
        )


def _pages(
    case: Case, blocks: list[Block], rings: Ringings, blamed: set[int]
) -> Iterator[tuple[tuple[int, ...], Finding]]:
    """Whole visits under another box: two that were exchanged, and one whose own visit has no bird."""
    for pairs in exchanged_broods(case, blocks, rings, blamed):
        suspects = []
        for pair in pairs:
            one, other = pair.boxes
            suspects += [At(str(rings.labels[i]), "box", other, pair.p, pair.p) for i in pair.first]
            suspects += [At(str(rings.labels[i]), "box", one, pair.p, pair.p) for i in pair.second]
        one, other = sorted(pairs[0].boxes)
        days = " or on ".join(str(day_of(pair.day)) for pair in pairs)
        message = f"The broods of boxes {one} and {other} stand under each other's box on {days}."
        rows = tuple(i for pair in pairs for i in (*pair.first, *pair.second))
        yield rows, case.blame("exchanged", suspects, message)
    for page in misplaced_pages(case, blocks, rings, blamed):
        suspects = [At(str(rings.labels[i]), "box", page.meant, page.p, page.p) for i in page.rows]
        message = (
            f"No visit to box {page.box} is listed on {day_of(page.day)}, but one to box {page.meant},"
            f" of which no bird is written: the {len(page.rows)} rows probably belong there."
        )
        yield page.rows, case.blame("page", suspects, message)


def _strays(case: Case, rings: Ringings, blamed: set[int]) -> Iterator[Finding]:
    """Single rows whose box was probably that of the visit next to them, or else their date."""
    limits = stray_limits(case)
    for stray in strays_of(case, rings, limits, blamed):
        even = max(stray.p_cell, stray.p_other) < limits["stray_p_least"] <= stray.p_cell + stray.p_other
        if not even and (stray.field != "box" or stray.p_cell < limits["stray_p_least"]):
            continue
        blamed.add(stray.row)
        label = str(rings.labels[stray.row])
        suspects, meant = [], []
        for place, p_cell in ((stray.meant, stray.p_cell), (stray.other, stray.p_other)):
            if place is None or (place is stray.other and not even):
                continue
            day = day_of(place[1])
            p = min(p_cell, case.limit("p_most"))
            p_fix = min(p, stray.p)
            here = str(rings.box[stray.row])
            if place[0] == here:
                days = [(day_of(day), share) for (box, day), share in stray.shares.items() if box == here]
                suspects.append(At(label, "date", day, p, p_fix, days))
            else:
                boxes = [(box, share) for (box, _), share in stray.shares.items() if box != here]
                suspects.append(At(label, "box", place[0], p, p_fix, boxes))
            meant.append(f"to box {place[0]} on {day}")
        why = " and ".join(stray.why) or "it stands beside its rows"
        message = (
            f"This row says box {rings.box[stray.row]}, but belongs to the visit {' or '.join(meant)}: {why}."
        )
        yield case.blame("among_others", suspects, message)


def _belongs(rings: Ringings, i: int, rows: tuple[int, ...]) -> bool:
    """Whether the bird of a row belongs to those of other rows, and not to the box of its own."""
    same = rings.rows_of_ring.get(bare(rings.ring[i]), [])
    if not rings.first[i] and any(rings.box[j] == rings.box[i] and j != i for j in same):
        return False
    return rings.belongs(i, rows)


RULE = Rule(
    "boxes",
    {"handlings": ("box", "date", "ring")},
    check,
    heeds=together(
        RINGINGS,
        STRAYS,
        {"handlings": ("remarks",), "boxes": ("box", "since", "until"), "visits": ("time", "alive")},
    ),
)

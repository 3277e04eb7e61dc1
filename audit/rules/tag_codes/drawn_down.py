"""Tags that only count on from the row above."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from audit.models.ring_number import next_code
from audit.rules.case import At, Case
from audit.rules.tag_codes.known import agreed

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.findings import Finding
    from audit.rules.tag_book import TagBook, TagRow

__all__ = ["counted_on"]


def counted_on(case: Case, book: TagBook, rows: Sequence[TagRow]) -> Iterator[Finding]:
    """Find tags that only count on from the row above, where neither stock nor the reader has them."""
    pairs = [
        (upper, row)
        for upper, row in pairwise(book.rows)
        if upper.visit == row.visit and row.place == upper.place + 1
    ]
    steps = [row for upper, row in pairs if row.tag == next_code(upper.tag)]
    strange = {
        row.label
        for row in steps
        if not agreed(book, row) and row.key not in book.read and _told(book, row) and row in rows
    }
    if len(steps) - len(strange) > case.limit("steps_share") * len(pairs):
        return
    run: list[TagRow] = []
    for row in steps:
        if row.label not in strange:
            continue
        if run and (row.place != run[-1].place + 1 or row.visit != run[-1].visit):
            yield _drawn_down(case, book, run)
            run = []
        run.append(row)
    if run:
        yield _drawn_down(case, book, run)


def _told(book: TagBook, row: TagRow) -> bool:
    """Whether stock or reader speak against a tag."""
    return (bool(book.stock) and row.key not in book.stock) or bool(book.waiting(row))


def _drawn_down(case: Case, book: TagBook, run: Sequence[TagRow]) -> Finding:
    """Blame a run of tags that count on; other visits, or the reader in its order, tell what was meant."""
    own = [
        {other.key for other in book.rows_of_ring.get(row.ring, ()) if other.visit != row.visit}
        for row in run
    ]
    waiting = book.read_in_turn(run[0], book.waiting(run[0]), through=run[-1])
    waiting = [key for key in waiting if book.unused(key)]
    waiting.sort(key=lambda key: book.read_place[run[0].day, key])
    suspects = []
    for k, row in enumerate(run):
        meant = next(iter(own[k])) if len(own[k]) == 1 else waiting[k] if len(waiting) == len(run) else ""
        p_fix = case.limit("p_fix_in_turn") if meant else None
        suspects.append(At(row.label, "tag", book.printed(meant) if meant else "", p_fix=p_fix))
    low, high = (row.label.rpartition("!")[2] for row in (run[0], run[-1]))
    what = f"The tag of row {low} counts" if len(run) == 1 else f"The tags of rows {low} to {high} count"
    return case.blame(
        "counted_on",
        suspects,
        f"{what} on by one from the row above, and neither stock nor reader has "
        f"{'it' if len(run) == 1 else 'them'}: a cell was probably drawn down.",
    )

"""Rows without a tag whose tag the reader stored that day."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from audit.rules.case import At, Case
from audit.rules.download import download_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.findings import Finding
    from audit.rules.tag_book import TagBook, TagRow

__all__ = ["left_out"]


def left_out(case: Case, book: TagBook) -> Iterator[Finding]:
    """Find rows without a tag whose tag the reader stored that day."""
    empty = [row for row in book.aside.values() if not row.tag and (row.label, "tag") not in case.doubted]
    waiting = {row.label: book.waiting(row) for row in empty}
    if not any(waiting.values()):
        return
    turns: dict[str, list[str]] = {}
    download = download_of(case)
    for row in empty:
        own = {other.key for other in book.rows_of_ring.get(row.ring, ())} & waiting[row.label]
        if len(own) == 1:
            key = own.pop()
            yield _no_tag(case, book, row, key, "is this bird's tag at another visit", "p_fix_own_read")
            continue
        near = _in_turn(case, book, row)
        turns[row.label] = [key for key in near if book.unused(key) and not download.has_row(row.day, key)]
    claims: dict[tuple[str, str], list[tuple[int, str]]] = defaultdict(list)
    for row in empty:
        for key in turns.get(row.label, ()):
            claims[row.day, key].append((download.nearness(row, key), row.label))
    # a row nearby whose tag is typed wrong, be it as that of the row above, has as good a claim
    for day in sorted({day for day, _ in claims}):
        for row in download.without_read(day):
            if row.label not in turns:
                for key in _in_turn(case, book, row):
                    claims[day, key].append((download.nearness(row, key), row.label))
    for row in empty:
        keys = turns.get(row.label, [])
        if len(keys) == 1 and row.ring and _has_best_claim(claims[row.day, keys[0]], row.label):
            between = "stands on no row and was read between those of the rows around it"
            yield _no_tag(case, book, row, keys[0], between, "p_fix_in_turn")


def _has_best_claim(claims: Sequence[tuple[int, str]], label: str) -> bool:
    """Whether a read stands nearer to a row than to any other."""
    best = max(near for near, _ in claims)
    return [other for near, other in claims if near == best] == [label]


def _in_turn(case: Case, book: TagBook, row: TagRow) -> list[str]:
    """List the tags on no row of the day that were read where a row stands."""
    waiting = book.waiting(row)
    if not waiting:
        return []
    return download_of(case).nearest(book, row, waiting)


def _no_tag(case: Case, book: TagBook, row: TagRow, key: str, why: str, p: str) -> Finding:
    shown = book.printed(key)
    return case.blame(
        "left_out",
        [At(row.label, "tag", shown, p_fix=case.limit(p))],
        f"No tag is given, but the reader stored {shown} that day, which {why}.",
    )

"""Tags that the team cannot have fitted, by stock and reader."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from audit.models.ring_number import bare
from audit.rules.case import At, Case
from audit.rules.earlier_birds import earlier_tags
from audit.rules.ringings import ringings_of
from audit.rules.tag_codes.batch import unlike_batch
from audit.rules.tag_codes.blame import blame_tag
from audit.rules.tag_meant import weigh_tag

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.findings import Finding, NotRun
    from audit.rules.tag_book import TagBook, TagRow

__all__ = ["against_known", "agreed"]


def against_known(case: Case, book: TagBook, rows: Sequence[TagRow]) -> Iterator[Finding | NotRun]:
    """Look for tags that the team cannot have fitted."""
    done: set[str] = set()
    borne = _borne_before(case, book, rows)
    for row in rows:
        if row.key in book.read or agreed(book, row):
            continue
        unread = bool(book.waiting(row))
        if not unread and (not book.stock or row.key in book.stock):
            continue
        verdict = weigh_tag(case, book, row, sound=True)
        if verdict.p_error < case.limit("blame_from"):
            continue
        if row.label in borne and verdict.meant[0].known_by == "run":
            # of another season, tags begin as they like
            continue
        done.add(row.label)
        if verdict.meant[0].key in book.waiting(row):
            yield blame_tag(
                case, book, row, "one_slip_from_read", "is not in the download of the reader", verdict=verdict
            )
        else:
            lacking = (
                "is not in the stock list" if book.stock and row.key not in book.stock else "was not read"
            )
            yield blame_tag(case, book, row, "one_slip_from_known", lacking, verdict=verdict)
    fitted = [row for row in rows if book.fitted(row) and row.label not in done | borne]
    if not book.stock:
        reason = "there is no table 'tag_stock'"
        yield case.not_run("not_in_stock", reason)
        yield from unlike_batch(case, book, fitted)
        return
    missing = [row for row in fitted if row.key not in book.stock]
    keys = {row.key for row in missing}
    n_fitted = len({row.key for row in fitted})
    few = max(case.limit("stock_missing_few"), case.limit("stock_missing_share") * n_fitted)
    if len(keys) > few or (keys and len(keys) == n_fitted > 1):
        yield case.blame(
            "stock_incomplete",
            [At(missing[0].label, "tag")],
            f"{len(keys)} of {n_fitted} fitted tags are not in the stock list, the first is "
            f"{missing[0].tag}: the list seems incomplete, so tags were not checked against it.",
        )
        yield from unlike_batch(case, book, fitted)
        return
    in_a_row = _in_a_row(keys, case.limit("batch_gap"))
    for row in missing:
        yield _not_in_stock(case, book, row, in_a_row=row.key in in_a_row)


def _borne_before(case: Case, book: TagBook, rows: Sequence[TagRow]) -> set[str]:
    """Rows of birds that had their tag before this season, or may have: no stock of this season holds it."""
    rings = ringings_of(case)
    put_on = {bare(str(ring)) for ring in rings.ring[rings.first & (rings.event == "ringed")]}
    elsewhere = {
        str(rings.labels[i])
        for i in np.flatnonzero(rings.from_elsewhere).tolist()
        if bare(str(rings.ring[i])) not in put_on
    }
    known = earlier_tags(case, book.habit)
    return elsewhere | {row.label for row in rows if row.key in known}


def agreed(book: TagBook, row: TagRow) -> list[TagRow]:
    """Rows of other visits in which the ring has the same tag."""
    rows = book.rows_of_ring.get(row.ring, ())
    return [other for other in rows if other.key == row.key and other.visit != row.visit]


def _not_in_stock(case: Case, book: TagBook, row: TagRow, *, in_a_row: bool) -> Finding:
    same = agreed(book, row)
    if row.key in book.read or same or in_a_row:
        why = (
            "but the reader has stored it"
            if row.key in book.read
            else f"but this bird has it on {same[0].day} too"
            if same
            else "nor are its neighbours: a bag of tags seems to be missing from the list"
        )
        return case.blame(
            "missing_from_stock", [At(row.label, "tag")], f"Tag {row.tag} is not in the stock list, {why}."
        )
    return case.blame("not_in_stock", [At(row.label, "tag")], f"Tag {row.tag} is not in the stock list.")


def _in_a_row(keys: set[str], gap: float) -> set[str]:
    """Keys whose number follows another one's closely."""
    by_family = [
        sorted((int(key, base), key) for key in keys if re.fullmatch(form, key))
        for form, base in (("[0-9]{15}", 10), ("[0-9A-F]{10}", 16))
    ]
    found: set[str] = set()
    for numbered in by_family:
        for (one, key), (other, following) in pairwise(numbered):
            if other - one <= gap:
                found |= {key, following}
    return found

"""Reads of a season in the order in which they really were, the doubled and testing ones marked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from audit.rules.reader_clock import clocks_of
from audit.season import texts_in

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.rules.case import Case
    from audit.rules.tag_book import TagBook

__all__ = ["OrderedReads", "follow_again", "reads_in_order"]


@dataclass(slots=True)
class OrderedReads:
    """Columns of the reads, in the order in which they were; `at` is the position in the table."""

    at: list[int]
    key: list[str]
    day: list[str]
    role: list[str]
    row: list[str]


def reads_in_order(case: Case, book: TagBook, true: Sequence[str]) -> OrderedReads:
    """Sort the reads by when they were, and mark the doubled and testing ones."""
    clocks = clocks_of(case)
    seconds = clocks.moments.astype("datetime64[s]").astype(np.int64).tolist()
    again = float(case.declared.rules["reader"].limits["again_minutes"].value) * float(
        np.timedelta64(1, "m") / np.timedelta64(1, "s")
    )
    texts = texts_in(case.frame("tag_reads"), "tag")
    last: dict[str, int] = {}
    reads = OrderedReads([], [], [], [], [])
    for i in clocks.order.tolist():
        if not texts[i]:
            continue
        key = book.read_keys[texts[i]]
        role = "test" if key in book.tests else "no_row"
        if role == "no_row" and true[i]:
            if key in last and seconds[i] - last[key] <= again:
                role = "again"
            last[key] = seconds[i]
        reads.at.append(i)
        reads.key.append(key)
        reads.day.append(true[i].partition("T")[0])
        reads.role.append(role)
        reads.row.append("")
    return reads


def follow_again(reads: OrderedReads) -> None:
    """Let a tag that was stored again belong to the row of the read before."""
    last: dict[str, str] = {}
    for i, (key, role) in enumerate(zip(reads.key, reads.role, strict=True)):
        if role == "again":
            reads.row[i] = last.get(key, "")
        else:
            last[key] = reads.row[i]

"""Tags that begin otherwise than nearly all others of the season."""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING

from audit.rules.case import At, Case
from audit.rules.tag_codes.blame import others_meant
from audit.rules.tag_meant import weigh_tag

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.findings import Finding
    from audit.rules.tag_book import TagBook, TagRow

__all__ = ["unlike_batch"]

_FIFTEEN_DIGITS = re.compile(r"[0-9]{15}")


def unlike_batch(case: Case, book: TagBook, fitted: Sequence[TagRow]) -> Iterator[Finding]:
    """Blame a fitted tag whose beginning is one slip from that of nearly all others, and far from them."""
    tags = {row.key for row in fitted if _FIFTEEN_DIGITS.fullmatch(row.key)}
    if len(tags) < case.limit("batch_least"):
        return
    stem = _stem(tags, case.limit("batch_share"))
    if len(stem) <= len("000"):
        return
    inside = [int(key) for key in tags if key.startswith(stem)]
    beginnings = Counter(key[: len(stem)] for key in tags)
    for row in fitted:
        if row.key not in tags or row.key.startswith(stem) or row.key in book.read:
            continue
        beginning = row.key[: len(stem)]
        if beginnings[beginning] > 1:
            continue
        number = int(row.key)
        if min(abs(number - min(inside)), abs(number - max(inside))) < case.limit("batch_distance"):
            continue
        verdict = weigh_tag(case, book, row, sound=True)
        if verdict.p_error < case.limit("blame_from"):
            continue
        best = verdict.meant[0]
        named = best.p >= case.limit("suggest_from")
        yield case.blame(
            "unlike_batch",
            [
                At(
                    row.label,
                    "tag",
                    book.printed(best.key) if named else "",
                    verdict.p_error,
                    best.p,
                    others_meant(book, verdict.meant),
                )
            ],
            f"Tag {row.tag} begins with {beginning}, but {len(inside)} of {len(tags)} tags fitted this "
            f"season begin with {stem}.",
        )


def _stem(keys: set[str], share: float) -> str:
    """Return the longest beginning that at least this share of the keys has."""
    left = list(keys)
    stem = ""
    for place in range(len(left[0])):
        digit, n = Counter(key[place] for key in left).most_common(1)[0]
        if n < share * len(keys):
            break
        stem += digit
        left = [key for key in left if key[place] == digit]
    return stem

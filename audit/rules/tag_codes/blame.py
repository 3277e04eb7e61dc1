"""A tag cell blamed, with the tag that was probably meant."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.rules.case import At, Case
from audit.rules.tag_meant import MeantTag, TagVerdict, weigh_tag

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audit.findings import Finding
    from audit.rules.tag_book import TagBook, TagRow

__all__ = ["blame_tag", "others_meant"]


def blame_tag(
    case: Case,
    book: TagBook,
    row: TagRow,
    outcome: str,
    clause: str,
    *,
    mended: str = "",
    p_fix: str = "",
    verdict: TagVerdict | None = None,
) -> Finding:
    """Blame one tag cell, with the tag that was most probably meant, where one can be named."""
    p_error = verdict.p_error if verdict else None
    meant = (verdict or weigh_tag(case, book, row)).meant
    probability: float | None = None
    suggested = because = ""
    if meant and meant[0].p >= case.limit("suggest_from"):
        suggested, probability = book.printed(meant[0].key), meant[0].p
        because = f"; {suggested} {_known(book, row, meant[0])}"
        if (rivals := _rivals(case, meant)) > 1:
            names = " and ".join(book.printed(other.key) for other in meant[:rivals])
            because = f"; {names} are as likely"
    elif 1 < (near := _rivals(case, meant)) <= case.limit("counted_most"):
        because = f"; {near} known tags are one slip away"
    elif mended:
        suggested = mended
        probability = float(case.limit(p_fix))
        because = f"; {mended} is probably meant"
    return case.blame(
        outcome,
        [
            At(
                row.label,
                "tag",
                suggested=suggested,
                p_error=p_error,
                p_fix=probability,
                others=others_meant(book, meant),
            )
        ],
        f"Tag {row.tag} {clause}{because}.",
    )


def others_meant(book: TagBook, meant: Sequence[MeantTag]) -> list[tuple[object, float]]:
    """List the tags that may be meant as they are printed, with their probabilities."""
    return [(book.printed(other.key), other.p) for other in meant]


def _rivals(case: Case, meant: Sequence[MeantTag]) -> int:
    """Count the tags that are nearly as likely as the likeliest, with it."""
    return sum(other.p >= case.limit("as_likely") * meant[0].p for other in meant) if meant else 0


def _known(book: TagBook, row: TagRow, meant: MeantTag) -> str:
    if meant.known_by == "bird":
        others = book.rows_of_ring[row.ring]
        day = next(other.day for other in others if other.key == meant.key)
        read = " and was read that day" if meant.key in book.waiting(row) else ""
        return f"is this bird's tag on {day}{read}"
    if meant.known_by == "read":
        return "was read that day and stands on no other row"
    if meant.known_by == "run":
        return "begins like the others of the season"
    where = "in stock" if meant.key in book.stock else "in the download of the reader"
    return f"is {where} and on no other bird"

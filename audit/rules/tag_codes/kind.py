"""Sound tags of another kind than the team fits."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.models.tag_text import bits_lost
from audit.rules.case import At, Case
from audit.rules.tag_codes.blame import blame_tag
from audit.rules.tag_codes.form import readings_of

if TYPE_CHECKING:
    from audit.findings import Finding
    from audit.rules.tag_book import TagBook, TagRow

__all__ = ["unlike"]


def unlike(case: Case, book: TagBook, row: TagRow) -> Finding | None:
    """Blame a sound tag of another kind than the team fits."""
    tags = case.declared.tags
    readings = readings_of(book, row.tag)
    here = readings[0]
    known = row.key in book.stock or row.key in book.read
    foreign = row.event == "re-encountered" and book.first_of_ring(row)
    # A bird re-encountered with the tag that it was given this season is the first handling's matter.
    later = row.event == "re-encountered" and not foreign
    prefixes = tags.expected_prefixes
    if prefixes and here.iso and here.iso.prefix not in prefixes and not (known or foreign or later):
        wanted = ", ".join(f"{prefix:03d}" for prefix in prefixes)
        return blame_tag(
            case,
            book,
            row,
            "unexpected_prefix",
            f"begins with {here.iso.prefix:03d}, but this team fits tags that begin with {wanted}",
        )
    wanted_formats = tags.expected_formats or ((book.habit,) if book.habit else ())
    if not wanted_formats or any(reading.slug in wanted_formats for reading in readings):
        return None
    title = tags.formats[here.slug].title
    usual = " or ".join(tags.formats[slug].title for slug in wanted_formats)
    printed = book.printed(row.key)
    if known:
        return case.blame(
            "other_writing",
            [At(row.label, "tag", suggested=printed if printed != row.tag else "")],
            f"Tag {row.tag} is the known tag {printed}, written as {title}; the others have {usual}.",
        )
    if foreign:
        return case.blame(
            "other_kind",
            [At(row.label, "tag")],
            f"Tag {row.tag} has {title}, the others of the season {usual}; "
            "it may have been fitted elsewhere.",
        )
    if tags.expected_formats:
        return blame_tag(
            case, book, row, "unexpected_format", f"has {title}, but this team writes tags as {usual}"
        )
    lost = bits_lost(here.slug)
    short = f" and tells {lost} bits less than the whole code" if lost else ""
    return blame_tag(
        case, book, row, "unlike_season", f"has {title}{short}, where the others of the season have {usual}"
    )

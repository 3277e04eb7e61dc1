"""The query sheet as a part of what goes out: what is still to be looked up."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.handover.part import Part
from audit.handover.query.sheet import query_writers
from audit.review.wording import counted

if TYPE_CHECKING:
    from audit.handover.query.sheet import QuerySheet

__all__ = ["query_part"]


def query_part(sheet: QuerySheet) -> Part:
    """Make the query sheet's files, or none where nothing is to be looked up.

    Returns
    -------
    Part
        ``questions/<season>.questions.html``, ``.pdf`` and ``.xlsx``.
    """
    number = len(sheet.questions)
    files = {f"questions/{name}": write for name, write in query_writers(sheet).items()} if number else {}
    told = (
        f"{counted(number, 'cell')} should still be looked up in the field notebook."
        if number
        else "Nothing is left to look up in the field notebook."
    )
    return Part("Query sheet", files, (told,))

"""Tags that somebody held to the antennas of a box at known moments, as a team declares them."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from audit.refusal import DeclarationRefusal

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.declarations.document import Document

__all__ = ["held_tags"]

_MOMENT = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d:\d\d")
_TRAIL = ("reading", "held_tags", "value")


def held_tags(document: Document) -> Mapping[str, Mapping[str, tuple[int, ...]]]:
    """Read when test tags were held to the antennas of which box.

    Parameters
    ----------
    document : Document
        One that fits the form ``loggers``.

    Returns
    -------
    mapping
        Tag -> box -> moments by the time of the season, in milliseconds since 1970.

    Raises
    ------
    DeclarationRefusal
        A moment is not written as day and time to the second.
    """
    return {
        tag: {
            box: tuple(_moment(document, text, (tag, box, nr)) for nr, text in enumerate(moments))
            for box, moments in boxes.items()
        }
        for tag, boxes in document.tree["reading"]["held_tags"]["value"].items()
    }


def _moment(document: Document, text: str, trail: tuple[str | int, ...]) -> int:
    written = text.strip()
    try:
        moment = datetime.fromisoformat(written) if _MOMENT.fullmatch(written) else None
    except ValueError:
        moment = None
    if moment is None:
        raise DeclarationRefusal(
            f"'{text}' is no moment.",
            where=document.where(*_TRAIL, *trail),
            cure='Write day and time to the second, by a watch that was right: "2026-05-20 14:05:10".',
        )
    return round(moment.replace(tzinfo=UTC).timestamp() * 1000)

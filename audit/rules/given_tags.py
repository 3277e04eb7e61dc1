"""Tags that a season says were given out: put on a bird, or in stock."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.season import texts_in

if TYPE_CHECKING:
    from audit.season import Season

__all__ = ["given_tags"]


def given_tags(season: Season) -> frozenset[str]:
    """Return the tags of handlings and of the stock, as they were typed."""
    return frozenset(
        text
        for table in ("handlings", "tag_stock")
        if season.has(table, "tag")
        for text in texts_in(season.frame(table), "tag")
        if text
    )

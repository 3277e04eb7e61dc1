"""All that crossings are judged by, laid out once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.rules.crossed.events import Events
from audit.rules.crossed.orders import Orders
from audit.rules.crossed.pairs import Pairs, pairs_of
from audit.rules.crossed.visit_rows import rows_of_visits

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.models.keying import Channel
    from audit.rules.case import Case
    from audit.rules.crossed.visit_rows import VisitRow
    from audit.rules.ring_rows import Ringings
    from audit.rules.tag_book import TagBook

__all__ = ["LaidOut", "lay_out_visits"]


@dataclass(frozen=True, slots=True)
class LaidOut:
    """The visits of a season, and what may speak for or against their rows.

    Attributes
    ----------
    visits : mapping of int to tuple of VisitRow
    pairs : Pairs
    orders : Orders
    events : Events
    channel : Channel
        What becomes of a code in which the hand slips.
    """

    case: Case
    rings: Ringings
    book: TagBook | None
    visits: Mapping[int, tuple[VisitRow, ...]]
    pairs: Pairs
    orders: Orders
    events: Events
    channel: Channel

    def limit(self, name: str) -> float:
        """Return a limit: they stand with the rule on tags, whichever rule asks."""
        return self.orders.limit(name)


def lay_out_visits(case: Case, rings: Ringings, book: TagBook | None) -> LaidOut:
    """Lay out the visits of a season."""
    visits = rows_of_visits(rings, book)
    orders, channel = Orders(case, rings, book, visits), case.declared.slips.channel()
    return LaidOut(case, rings, book, visits, pairs_of(visits), orders, Events(rings), channel)

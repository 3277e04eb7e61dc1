"""What a cell may be expected to say by the cells around it: dates, times, boxes, codes and counts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.explain.unread_boxes import BoxBeliefs
from audit.explain.unread_codes import CodeBeliefs
from audit.explain.unread_counts import CountBeliefs
from audit.explain.unread_days import DayBeliefs
from audit.explain.unread_times import TimeBeliefs
from audit.explain.unread_witnesses import Witnesses

if TYPE_CHECKING:
    from audit.explain.unread_sheet import Sheet, Tables

__all__ = ["Beliefs", "beliefs_of"]


@dataclass(frozen=True, slots=True)
class Beliefs:
    """Beliefs about the cells of one table, by what they say."""

    days: DayBeliefs
    times: TimeBeliefs
    boxes: BoxBeliefs
    counts: CountBeliefs
    codes: CodeBeliefs


def beliefs_of(tables: Tables, sheet: Sheet) -> Beliefs:
    """Gather what is believed of the cells of a table."""
    seen = Witnesses(tables, sheet)
    return Beliefs(
        DayBeliefs(seen), TimeBeliefs(seen), BoxBeliefs(seen), CountBeliefs(seen), CodeBeliefs(seen)
    )

"""Has a column slid? Cells that stand one row too low or too high, from one row to another, are one slip."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.rules.heeded import READER_CLOCK, RINGINGS, TAG_BOOK, WEIGHINGS, together
from audit.rules.ringings import ringings_of
from audit.rules.rule import Rule
from audit.rules.slid_blocks import say
from audit.rules.slid_codes import code_columns
from audit.rules.slid_column import slots_of
from audit.rules.slid_measures import mass_columns
from audit.rules.tag_book import open_tag_book

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case

__all__ = ["RULE"]

_OUTCOMES = {"tag": "tags", "ring": "rings", "gross_g": "masses", "bag_g": "masses", "net_g": "masses"}


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Find the codes and masses that stand beside the wrong rows for a while."""
    frame = case.sure("handlings")
    if len(frame) <= 1:
        return
    slots = slots_of(frame)
    rings = ringings_of(case)
    book = open_tag_book(case) if case.season.has("handlings", "tag") else None
    for said in say(case, slots, [*code_columns(case, slots, rings, book), *mass_columns(case, slots)]):
        yield case.blame(_OUTCOMES[said.field], said.suspects, said.message)


RULE = Rule(
    "slides",
    {"handlings": ("date", "box", "ring")},
    check,
    heeds=together(RINGINGS, TAG_BOOK, READER_CLOCK, WEIGHINGS, {"handlings": ("time",)}),
)

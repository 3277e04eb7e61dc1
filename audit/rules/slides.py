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
    from audit.rules.slid_column import SlidColumn

__all__ = ["RULE"]

_OUTCOMES = {"tag": "tags", "ring": "rings", "gross_g": "masses", "bag_g": "masses", "net_g": "masses"}

#: Columns on which it depends how codes go with rows.
_CODES = together(RINGINGS, TAG_BOOK, READER_CLOCK, {"handlings": ("time", "species")})


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Find the codes and masses that stand beside the wrong rows for a while."""
    slots = slots_of(case)
    if len(slots.labels) <= 1:
        return
    # kept over edits of masses
    codes = case.lay_out(_codes, _CODES)
    for said in say(case, slots, [*codes, *mass_columns(case, slots)]):
        yield case.blame(_OUTCOMES[said.field], said.suspects, said.message)


def _codes(case: Case) -> tuple[SlidColumn, ...]:
    book = open_tag_book(case) if case.season.has("handlings", "tag") else None
    return tuple(code_columns(case, slots_of(case), ringings_of(case), book))


RULE = Rule(
    "slides",
    {"handlings": ("date", "box", "ring")},
    check,
    heeds=together(_CODES, WEIGHINGS),
)

"""Has the column of wings slid? Asked once ring, box and date of each bird are as sure as they can be."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from audit.rules.heeded import BIRDS, together
from audit.rules.rule import Rule
from audit.rules.slid_blocks import say
from audit.rules.slid_column import slots_of
from audit.rules.slid_measures import wing_column

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding, NotRun
    from audit.rules.case import Case

__all__ = ["RULE"]


def check(case: Case) -> Iterator[Finding | NotRun]:
    """Find the wings that stand beside the wrong rows for a while."""
    # a slide is a slide, whichever column it is in
    slider = replace(case, rule=case.declared.rules["slides"])
    slots = slots_of(slider)
    if len(slots.labels) <= 1:
        return
    for said in say(slider, slots, list(wing_column(slider, slots))):
        yield case.blame("page", said.suspects, said.message)


RULE = Rule(
    "slid_wings",
    {"handlings": ("date", "box", "ring", "wing_mm")},
    check,
    heeds=together(BIRDS, {"handlings": ("time",)}),
)
